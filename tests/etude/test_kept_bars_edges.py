"""Where bars that stand begin and end: what is cut, what is eased, and what is refused."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest
from briefs_over_charts import BriefOverChart, brief_over, midis_of, slots_laid_out
from hypothesis import given
from hypothesis import strategies as st
from typed_lines import typed

from halfstep.errors import BriefError
from halfstep.etude.chord_runs import UP, ChordRun, RunShape
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.kept_bars import (
    _anything,
    _chord_of,
    _eased,
    _entered,
    _runs,
    outside_bars,
    pinned_bars,
    slots_with_pins,
)  # fmt: skip
from halfstep.etude.kept_runs import _parts, runs_with_pins
from halfstep.etude.slots import Leads, Slot, slots_of
from halfstep.etude.steps import STEPS, find_step
from halfstep.pitch import parse_pitch

FOUR = brief_over("key: F\n| C7 | F7 | C7 | F7 |")
KEPT = typed("one-line", "key: F\n| C7 | F7 | C7 | F7 |",
             "C5---- | A4-- C5-- | G4---- | F4----")[0].notes  # fmt: skip


def note(onset: str, beats: str, pitch: str | None = "C5", chord: int = 0) -> EtudeNote:
    return EtudeNote(Fraction(onset), Fraction(beats), parse_pitch(pitch) if pitch else None, chord)


def with_kept(*notes: EtudeNote) -> BriefOverChart:
    return FOUR._replace(brief=replace(FOUR.brief, pinned=notes))


@pytest.mark.parametrize(
    ("notes", "bounds"),
    [
        ((), []),
        ((note("4", "4"),), [(4, 8)]),
        ((note("4", "2"), note("6", "2")), [(4, 8)]),
        ((note("6", "2"), note("4", "2")), [(4, 8)]),  # whatever their order
        ((note("0", "4"), note("4", "4")), [(0, 8)]),
        ((note("0", "4"), note("8", "4")), [(0, 4), (8, 12)]),
        ((note("4", "6"),), [(4, 10)]),  # tied over the bar line
        ((note("12", "4"),), [(12, 16)]),
    ],
)
def test_what_stands_is_whole_bars_with_what_is_tied_to_them(
    notes: tuple[EtudeNote, ...], bounds: list[tuple[int, int]]
) -> None:
    assert pinned_bars(FOUR.analysis, notes) == bounds


@pytest.mark.parametrize(
    ("notes", "text"),
    [
        ((note("4", "3"),), "the notes kept in bar 2 do not fill it"),
        ((note("5", "3"),), "the notes kept in bar 2 do not fill it"),
        ((note("-1", "5"),), "the notes kept at beat -1 lie outside the chart"),
        ((note("16", "4"),), "the notes kept at beat 16 lie outside the chart"),
        ((note("12", "5"),), "the notes kept in bar 4 do not fill it"),
        ((note("4", "4"), note("6", "2")), "the notes kept in bar 2 do not fill it"),
    ],
)
def test_notes_that_fill_no_bars_are_refused_with_their_place(
    notes: tuple[EtudeNote, ...], text: str
) -> None:
    with pytest.raises(BriefError, match=f"^{text}$"):
        pinned_bars(FOUR.analysis, notes)


def test_notes_are_cut_into_runs_where_one_does_not_follow_the_other() -> None:
    notes = [note("8", "1"), note("0", "1"), note("1", "2"), note("4", "3")]
    assert [[item.onset for item in run] for run in _runs(notes)] == [[0, 1], [4], [8]]
    assert _runs([]) == []


@given(st.integers(0, 15), st.integers(1, 8), st.integers(0, 10), st.integers(1, 5))
def test_of_a_slot_stays_what_lies_outside_bars(
    onset: int, beats: int, start: int, length: int
) -> None:
    """Beat by beat, against the words."""
    slot = Slot(Fraction(onset), Fraction(beats), FOUR.palettes[0], strong=True, entry=0)
    parts = outside_bars(slot, [(Fraction(start), Fraction(start + length))])
    kept = {beat for part in parts for beat in range(int(part.onset), int(part.onset + part.beats))}
    assert kept == set(range(onset, onset + beats)) - set(range(start, start + length))
    assert all(part.palette is slot.palette for part in parts)


@pytest.mark.parametrize(
    ("kept", "lengths"),
    [((0, 1), [3]), ((1, 2), [1, 2]), ((3, 4), [3]), ((0, 4), []), ((8, 12), [4])],
)
def test_a_run_is_cut_where_bars_stand(kept: tuple[int, int], lengths: list[int]) -> None:
    slots = slots_of(FOUR.cut[0], Fraction(0), [Fraction(1)] * 4, FOUR.palettes[0], 0)
    run = ChordRun(slots, (RunShape(UP),), tuple(midis_of("C4 E4 G4 Bb4")))
    parts = _parts(run, [(Fraction(kept[0]), Fraction(kept[1]))])
    assert [len(part.slots) for part in parts] == lengths
    for part in parts:
        first = int(part.slots[0].onset)
        assert part.shapes[0].offsets == UP[first : first + len(part.slots)]


def test_kept_notes_become_slots_with_one_choice() -> None:
    request = with_kept(KEPT[1], KEPT[2])
    slots = slots_with_pins(
        slots_laid_out("one-line", FOUR), request.analysis, request.brief, request.palettes
    )
    standing = [slot for slot in slots if slot.stands]
    assert [(slot.onset, slot.beats, slot.pin) for slot in standing] == [(4, 2, 69), (6, 2, 72)]
    assert all(slot.onset + slot.beats <= 4 or slot.onset >= 8 for slot in slots if not slot.stands)
    onsets = [slot.onset for slot in slots]
    assert onsets == sorted(onsets)
    assert sum(slot.beats for slot in slots) == 16


def test_kept_notes_become_runs_of_one_shape() -> None:
    request = with_kept(KEPT[1], KEPT[2])
    slots = slots_of(FOUR.cut[0], Fraction(0), [Fraction(1)] * 4, FOUR.palettes[0], 0)
    runs = [ChordRun(slots, (RunShape(UP),), tuple(midis_of("C4 E4 G4 Bb4")))]
    made = runs_with_pins(runs, request.analysis, request.brief, request.palettes)
    assert [run.ladder for run in made[1:]] == [(69,), (72,)]
    assert [run.shapes for run in made[1:]] == [(RunShape((0,)),)] * 2
    assert runs_with_pins(runs, FOUR.analysis, FOUR.brief, FOUR.palettes) == runs


@pytest.mark.parametrize(
    ("onset", "beats", "pitch", "chord"),
    [
        ("7/2", "1/2", "C5", 0),
        ("7/2", "1", "C5", 1),  # early to F7, which has it, and held as long
        ("7/2", "3/4", "C5", 0),  # mostly in the chord before
        ("7/2", "1", "E5", 0),  # F7 has no E
        ("7/2", "1", None, 0),
    ],
)
def test_a_kept_note_may_come_early_to_the_next_chord(
    onset: str, beats: str, pitch: str | None, chord: int
) -> None:
    palette = _chord_of(note(onset, beats, pitch), FOUR.cut[0:2], FOUR.palettes)
    assert palette is FOUR.palettes[chord]


def test_over_no_chord_a_teacher_may_play_anything() -> None:
    palette = _anything(FOUR.cut[0])
    assert palette.scale.all()
    assert palette.open.all()
    assert not palette.avoid.any()
    assert not palette.gain.any()
    assert palette.label == "N.C."


def test_entries_are_counted_again() -> None:
    slots = [
        Slot(Fraction(n), Fraction(1), FOUR.palettes[n // 2], strong=False, entry=9)
        for n in range(5)
    ]
    slots.insert(1, Slot(Fraction(1), Fraction(1), None, strong=True, entry=0))
    assert [slot.entry for slot in _entered(slots)] == [0, 0, 1, 0, 1, 0]


def test_before_a_rest_that_stands_notes_lead_nowhere_and_end_a_phrase() -> None:
    base = Slot(Fraction(0), Fraction(1), FOUR.palettes[0], strong=False, entry=0)
    first = base._replace(leads=Leads.AROUND_FIRST)
    second = base._replace(leads=Leads.AROUND_SECOND)
    rest = base._replace(palette=None, stands=True)
    eased = _eased([base, first, second, rest], FOUR.brief)
    assert [slot.leads for slot in eased] == [Leads.NOT] * 4
    assert [slot.closes for slot in eased] == [False, False, True, False]
    wind = brief_over("| C7 |", instrument="alto-sax").brief
    assert _eased([base, second, rest], wind)[1].breath
    sounding = rest._replace(palette=FOUR.palettes[1])
    assert _eased([first, second, sounding], FOUR.brief) == [first, second, sounding]


@pytest.mark.sampled
@pytest.mark.parametrize("step", [step.name for step in STEPS])
@pytest.mark.parametrize("bar", [0, 1, 3])
def test_a_bar_that_stands_comes_back_note_by_note(step: str, bar: int) -> None:
    """Whatever step is written around it, also with a rhythm that the step would not have."""
    kept = tuple(item for item in KEPT if 4 * bar <= item.onset < 4 * bar + 4)
    brief = replace(FOUR.brief, pinned=kept)
    etude = write_etude(find_step(step), FOUR.analysis, brief)
    back = [item for item in etude.notes if 4 * bar <= item.onset < 4 * bar + 4]
    assert [(item.onset, item.beats, item.pitch) for item in back] == [
        (item.onset, item.beats, item.pitch) for item in kept
    ]
    assert sum(item.beats for item in etude.notes) == 16
    assert np.diff([float(item.onset) for item in etude.notes]).min() > 0
