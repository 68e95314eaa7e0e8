"""Where notes may stand: the form filled without gap or overlap, strong beats and phrase ends.

Phrases of four bars, two at slow tempi, common practice, no source.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import pairwise

import pytest
from briefs_over_charts import brief_over
from etude_charts import briefs, chart_with
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief
from halfstep.etude.palette import chord_palettes
from halfstep.etude.slots import (
    Leads,
    Slot,
    breath_beats,
    closes_phrase,
    final_onset,
    is_strong,
    line_slots,
    on_grid,
    pieces,
    slots_of,
)
from halfstep.harmony.analysis import analyse
from halfstep.harmony.note_likelihoods import Weight
from halfstep.meter import Meter
from strategies import charts, meters

EIGHTH, QUARTER = Fraction(1, 2), Fraction(1)
FOUR = brief_over("| C7 | F7 | C7 | F7 |", instrument="alto-sax")


@pytest.mark.slow
@settings(max_examples=25)
@given(charts(max_bars=6))
def test_pieces_fill_the_form_and_cross_no_bar_line(chart: object) -> None:
    """Chords that begin between sixteenths are moved; nothing is lost or counted twice."""
    analysis = analyse(chart)  # type: ignore[arg-type]
    cut = pieces(analysis)
    assert [piece.end for piece in cut[:-1]] == [piece.start for piece in cut[1:]]
    assert cut[0].start == 0
    assert cut[-1].end == analysis.chart.beats
    for piece in cut:
        assert piece.bar_start <= piece.start < piece.end <= piece.bar_start + piece.bar.beats
        assert (piece.start * 4).denominator == 1 or piece.start == piece.bar_start
        assert piece.beats == piece.end - piece.start
    assert {piece.chord for piece in cut} == set(range(len(analysis.chords)))


@pytest.mark.slow
@settings(max_examples=25)
@given(charts(max_bars=5), briefs(), st.sampled_from([EIGHTH, QUARTER]))
def test_a_line_fills_the_form_in_every_metre(chart: object, brief: Brief, unit: Fraction) -> None:
    analysis = analyse(chart, level=brief.level)  # type: ignore[arg-type]
    slots = line_slots(analysis, brief, chord_palettes(analysis, brief), unit=unit)
    assert all(old.onset + old.beats == new.onset for old, new in pairwise(slots))
    assert slots[0].onset == 0
    assert slots[-1].onset + slots[-1].beats == analysis.chart.beats
    assert all(slot.beats > 0 for slot in slots)
    assert [slot.last for slot in slots[:-1]] == [False] * (len(slots) - 1)
    assert slots[-1].last is (slots[-1].palette is not None)


@settings(max_examples=20)
@given(meters(), st.integers(1, 4))
def test_entries_count_the_notes_of_each_chord(meter: Meter, bars: int) -> None:
    chart = chart_with(meter, bars, [(meter.bar_beats * n, "Dm7") for n in range(bars)])
    analysis = analyse(chart)
    slots = line_slots(analysis, FOUR.brief, chord_palettes(analysis, FOUR.brief))
    counts: dict[int, int] = {}
    for slot in slots:
        assert slot.palette is not None
        assert slot.entry == counts.get(slot.palette.chord, 0)
        counts[slot.palette.chord] = slot.entry + 1
    assert sum(counts.values()) == len(slots)


@pytest.mark.parametrize(
    ("beat", "sixteenth"),
    [("1/3", "1/4"), ("2/3", "3/4"), ("5/12", "1/2"), ("1/8", "0"), ("3/8", "1/2"), ("2", "2")],
)
def test_the_nearest_sixteenth(beat: str, sixteenth: str) -> None:
    """Halfway between two the even one is taken, as Python rounds."""
    assert on_grid(Fraction(beat)) == Fraction(sixteenth)


@pytest.mark.parametrize(
    ("chart", "onset", "first", "strong"),
    [
        ("| C7 |", "0", True, True),
        ("| C7 |", "1", False, False),
        ("| C7 |", "2", False, True),
        ("| C7 |", "1", True, True),  # a chord starts here
        ("meter: 3/4\n| C7 |", "2", False, False),
        ("meter: 6/8\n| C7 |", "3/2", False, True),
        ("meter: 6/8\n| C7 |", "1", False, False),
        ("meter: 5/4\n| C7 |", "3", False, True),
        ("meter: 5/4\n| C7 |", "2", False, False),
    ],
)
def test_strong_beats_are_those_of_the_metre_and_where_a_chord_starts(
    chart: str, onset: str, first: bool, strong: bool
) -> None:
    piece = brief_over(chart).cut[0]
    assert is_strong(piece, Fraction(onset), first=first) is strong


@pytest.mark.parametrize(
    ("chart", "onset"),
    [
        ("| C7 |", "2"),
        ("| C7 . F7 . |", "2"),
        ("| C7 . . F7 |", "3"),  # no strong beat is left in the chord
        ("meter: 3/4\n| C7 |", "1"),  # one strong beat alone: the beat after it
        ("meter: 2/4\n| C7 |", "1"),
        ("meter: 6/8\n| C7 |", "3/2"),
        ("meter: 9/8\n| C7 |", "3"),
        ("meter: 5/4\n| C7 |", "3"),
        ("meter: 7/4\n| C7 |", "5"),
    ],
)
def test_the_last_note_starts_on_the_last_strong_beat(chart: str, onset: str) -> None:
    assert final_onset(brief_over(chart).cut[-1]) == Fraction(onset)


def test_a_breath_takes_what_a_tempo_counts() -> None:
    lengths = [breath_beats(Meter(*sign)) for sign in ((4, 4), (2, 2), (3, 4), (6, 8), (12, 8))]
    assert lengths == [1, 1, 1, Fraction(3, 2), Fraction(3, 2)]


@pytest.mark.parametrize(
    ("bars", "tempo_bpm", "ends"),
    [
        (4, 120.0, {4}),
        (8, 120.0, {4, 8}),
        (6, 120.0, {4, 6}),  # what is left is a phrase of its own
        (4, 60.0, {2, 4}),  # four bars of four seconds are more than nine
        (3, 40.0, {1, 2, 3}),
    ],
)
def test_phrases_end_with_every_breath_and_with_the_form(
    bars: int, tempo_bpm: float, ends: set[int]
) -> None:
    request = brief_over("| C7 |" + " F7 |" * (bars - 1), tempo_bpm=tempo_bpm)
    assert request.ends == ends


def test_a_piece_closes_a_phrase_only_with_its_bar() -> None:
    request = brief_over("| C7 | C7 F7 |")
    assert [closes_phrase(piece, {2}) for piece in request.cut] == [False, False, True]
    assert [closes_phrase(piece, {1}) for piece in request.cut] == [True, False, False]


def test_a_line_of_eighths_holds_the_last_note_of_each_phrase_for_a_beat() -> None:
    request = brief_over("| C7 |" + " F7 |" * 7, instrument="alto-sax")
    slots = line_slots(request.analysis, request.brief, request.palettes)
    ends = [slot for slot in slots if slot.closes]
    assert [slot.onset + slot.beats for slot in ends] == [16, 32]
    assert [slot.beats for slot in ends] == [1, 2]  # the last one from the strong beat on
    assert all(slot.beats == EIGHTH for slot in slots if not slot.closes)


def test_only_players_who_breathe_have_breaths() -> None:
    for instrument, breath in (("alto-sax", True), ("piano", False)):
        request = brief_over("| C7 | F7 |", instrument=instrument)
        slots = line_slots(request.analysis, request.brief, request.palettes)
        assert [slot.breath for slot in slots if slot.closes] == [breath]
        assert not any(slot.breath for slot in slots if not slot.closes)


def test_where_there_is_no_chord_there_is_one_rest_a_bar() -> None:
    request = brief_over("| C7 | N.C. | % | F7 |")
    slots = line_slots(request.analysis, request.brief, request.palettes)
    rests = [(slot.onset, slot.beats) for slot in slots if slot.palette is None]
    assert rests == [(4, 4), (8, 4)]


@pytest.mark.parametrize("entry", [0, 3])
def test_slots_of_given_lengths_follow_one_another(entry: int) -> None:
    piece = FOUR.cut[1]
    lengths = [QUARTER, EIGHTH, EIGHTH, Fraction(2)]
    slots = slots_of(piece, piece.start, lengths, FOUR.palettes[1], entry)
    assert [slot.onset for slot in slots] == [4, 5, Fraction(11, 2), 6]
    assert [slot.beats for slot in slots] == lengths
    assert [slot.entry for slot in slots] == [entry + n for n in range(4)]
    assert [slot.strong for slot in slots] == [True, False, False, True]
    assert [slot.weight for slot in slots] == [
        Weight.STRONG, Weight.BEAT, Weight.OFF, Weight.STRONG,
    ]  # fmt: skip


KIND_MATTERS = {
    "strong": True, "turn": True, "closes": True, "last": True, "weight": Weight.STRONG,
    "way": 1, "motif": 1, "leads": Leads.NEIGHBOUR, "pin": 60, "stands": True, "entry": 1,
    "palette": None, "echo": frozenset({0}), "high_point": 72, "peaks": True, "barrier": 64,
    "strict": True,
}  # fmt: skip
KIND_SAME = {"onset": Fraction(9), "breath": True, "target": 70.0, "below": (55,)}


@pytest.mark.parametrize("field", Slot._fields)
def test_the_kind_of_a_slot_is_all_that_rules_and_costs_look_at(field: str) -> None:
    """Nor is where it stands, where the contour leads, who breathes and what is struck below."""
    slot = Slot(Fraction(0), EIGHTH, FOUR.palettes[0], strong=False, entry=0)
    if field == "beats":
        assert slot._replace(beats=QUARTER).kind != slot.kind  # a long note lingers
        assert slot._replace(beats=Fraction(1, 3)).kind == slot.kind
    elif field in KIND_MATTERS:
        assert slot._replace(**{field: KIND_MATTERS[field]}).kind != slot.kind  # type: ignore[arg-type]
    else:
        assert slot._replace(**{field: KIND_SAME[field]}).kind == slot.kind  # type: ignore[arg-type]


def test_from_the_third_note_of_a_chord_on_entries_are_of_one_kind() -> None:
    slot = Slot(Fraction(0), EIGHTH, FOUR.palettes[0], strong=False, entry=1)
    kinds = [slot._replace(entry=entry).kind for entry in range(5)]
    assert kinds[2] == kinds[3] == kinds[4]
    assert len(set(kinds)) == 3
