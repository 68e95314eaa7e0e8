"""A teacher's notes stand, and the rest is written around them; other lines for one brief."""

from __future__ import annotations

import json
import random
from dataclasses import replace
from fractions import Fraction
from itertools import product
from pathlib import Path

import pytest
from etude_charts import INVENTED, analysis_named, briefs, etude_charts
from hypothesis import given, settings
from hypothesis import strategies as st
from shared_bars import shared_bars

from halfstep.data.etude_json import etude_file_data
from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude, write_etudes
from halfstep.etude.steps import STEPS, find_step, parse_steps
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.lesson.brief import LessonBrief, Player
from halfstep.level import Level
from halfstep.part.transposed_part import part_for
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import Chart
from halfstep.services.stored_bars import kept_notes
from typed_charts import read_chart_text

NAMES = [step.name for step in STEPS if step.name != "guide-tones"]
NUMBERED = [name for name in NAMES if find_step(name).number]


def bars_of(analysis: Analysis) -> list[tuple[Fraction, Fraction]]:
    return [(start, start + bar.beats) for bar, start in analysis.chart.placed()]


def inside(etude: Etude, bars: list[tuple[Fraction, Fraction]]) -> tuple[EtudeNote, ...]:
    """The notes that sound in those bars, whole ones where they are tied over a bar line."""
    return tuple(
        n for n in etude.notes if any(n.onset < high and low < n.end for low, high in bars)
    )


def heard(notes: tuple[EtudeNote, ...]) -> list[tuple[Fraction, Fraction, str]]:
    return [(note.onset, note.beats, str(note.pitch)) for note in notes]


@pytest.mark.sampled
@pytest.mark.parametrize("step", NAMES)
def test_kept_bars_come_back_as_they_were(step: str) -> None:
    """Bars of another seed's line are kept, and what is written around them adds up."""
    rng = random.Random(step)
    for name in rng.sample(list(INVENTED), 2):
        analysis = analysis_named(name, Level.INTERMEDIATE)
        brief = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 1)
        bars = bars_of(analysis)
        kept = rng.sample(bars, rng.randint(1, len(bars) - 1))
        pinned = inside(write_etude(find_step(step), analysis, replace(brief, seed=50)), kept)
        etude = write_etude(find_step(step), analysis, replace(brief, pinned=pinned))
        assert heard(inside(etude, kept)) == heard(pinned)
        assert sum(note.beats for note in etude.notes) == analysis.chart.beats


@pytest.mark.slow
@given(etude_charts(), briefs(), st.sampled_from(NAMES), st.randoms(use_true_random=False))
@settings(max_examples=60)
def test_any_bars_may_be_kept(chart: Chart, brief: Brief, step: str, rng: random.Random) -> None:
    """A line can always be written around bars of a line that was written."""
    analysis = analyse(chart, level=brief.level)
    try:
        before = write_etude(find_step(step), analysis, brief)
    except BriefError:
        return
    bars = bars_of(analysis)
    kept = rng.sample(bars, rng.randint(1, len(bars)))
    pinned = inside(before, kept)
    etude = write_etude(find_step(step), analysis, replace(brief, pinned=pinned))
    assert heard(inside(etude, kept)) == heard(pinned)


@pytest.mark.sampled
@pytest.mark.parametrize("step", NUMBERED)
def test_joints_keep_the_rules_when_they_can(step: str) -> None:
    """Into its own bars a line can keep every rule, so no notice says that it did not."""
    for name in ("evening class", "minor"):
        analysis = analysis_named(name, Level.INTERMEDIATE)
        brief = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 3)
        etude = write_etude(find_step(step), analysis, brief)
        pinned = inside(etude, bars_of(analysis)[2:4])
        again = write_etude(find_step(step), analysis, replace(brief, pinned=pinned))
        assert not any("notes that stand" in notice.text for notice in again.notices)


def note(onset: int, beats: int, pitch: str | None) -> EtudeNote:
    return EtudeNote(Fraction(onset), Fraction(beats), parse_pitch(pitch) if pitch else None, 0)


@pytest.mark.slow
@pytest.mark.parametrize("step", NUMBERED)
def test_a_teacher_may_break_every_rule(step: str) -> None:
    """Out of range, out of scale, three alike, over N.C., with rests: all of it stands."""
    analysis = analyse(read_chart_text("| Cmaj7 | N.C. | Dm7 G7 | C6 | Am7 | D7 | G7 | C6 |"))
    wild = (
        *(note(at, 1, "Gb6") for at in (4, 5, 6)),
        note(7, 1, None),
        note(8, 1, "C#3"),
        note(9, 2, None),
        note(11, 1, "Bb2"),
    )
    brief = Brief(INSTRUMENTS["alto-sax"], Level.BEGINNER, 120.0, 2, pinned=wild)
    etude = write_etude(find_step(step), analysis, brief)
    assert heard(inside(etude, [(Fraction(4), Fraction(12))])) == heard(wild)


def test_a_joint_that_cannot_keep_a_rule_says_so() -> None:
    analysis = analyse(read_chart_text("| Cmaj7 | Dm7 | G7 | Cmaj7 |"))
    far = tuple(note(at, 1, "Gb6") for at in (4, 5, 6, 7))
    brief = Brief(INSTRUMENTS["alto-sax"], Level.BEGINNER, 120.0, 2, pinned=far)
    notices = [each.text for each in write_etude(find_step("one-line"), analysis, brief).notices]
    assert any("bar 2 the notes that stand leave no way to keep" in text for text in notices)


@pytest.mark.parametrize(
    ("pinned", "said"),
    [
        ((note(4, 3, "C5"),), "the notes kept in bar 2 do not fill it"),
        ((note(4, 1, "C5"), note(6, 2, "C5")), "the notes kept in bar 2 do not fill it"),
        ((note(40, 4, "C5"),), "the notes kept at beat 40 lie outside the chart"),
    ],
)
def test_kept_notes_must_fill_whole_bars(pinned: tuple[EtudeNote, ...], said: str) -> None:
    analysis = analyse(read_chart_text("| Cmaj7 | Dm7 | G7 | Cmaj7 |"))
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 120.0, pinned=pinned)
    for step in ("arpeggio", "one-line"):
        with pytest.raises(BriefError, match=f"^{said}$"):
            write_etude(find_step(step), analysis, brief)


@pytest.mark.slow
@pytest.mark.parametrize("step", NUMBERED)
def test_lines_for_one_brief_share_fewer_than_half_their_bars(step: str) -> None:
    """Over one of three charts in turn; not asked of guide tones, which leave two ways."""
    name = ("evening class", "sixteen bars", "waltz")[NUMBERED.index(step) % 3]
    brief = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 1)
    etudes = write_etudes(find_step(step), analysis_named(name, Level.INTERMEDIATE), brief, 4)
    assert max(shared_bars(etudes)) < 0.5
    assert etudes[0] == write_etude(
        find_step(step), analysis_named(name, Level.INTERMEDIATE), brief
    )


def tied_chorus() -> tuple[Etude, EtudeNote, list[tuple[Fraction, Fraction]]]:
    """A chorus, a note that comes early over a bar line, and the bars it sounds in."""
    for name, seed in product(INVENTED, range(9)):
        analysis = analysis_named(name, Level.ADVANCED)
        etude = write_etude(
            find_step("chorus"),
            analysis,
            Brief(INSTRUMENTS["trumpet"], Level.ADVANCED, 120.0, seed),
        )
        for each in etude.notes:
            bars = [bar for bar in bars_of(analysis) if each.onset < bar[1] and bar[0] < each.end]
            if each.pitch and len(bars) > 1 and analysis.chords[each.chord].span.start > each.onset:
                return etude, each, bars
    raise AssertionError("no chorus has a note over a bar line")


@pytest.mark.parametrize("side", [0, 1])
def test_a_note_tied_over_the_bar_line_is_kept_whole(side: int) -> None:
    """Whichever of its two bars is kept; it stays a note of the chord that it anticipates."""
    etude, tied, bars = tied_chorus()
    pinned = inside(etude, [bars[side]])
    assert tied in pinned
    brief = replace(etude.brief, seed=77, pinned=pinned)
    again = write_etude(find_step("chorus"), etude.analysis, brief)
    found = next(each for each in again.notes if each.onset == tied.onset)
    assert (found.beats, found.pitch, found.chord) == (tied.beats, tied.pitch, tied.chord)
    assert heard(again.notes) != heard(etude.notes)


def test_a_note_may_not_be_kept_without_what_it_is_tied_to() -> None:
    etude, tied, bars = tied_chorus()
    pinned = tuple(each for each in inside(etude, [bars[1]]) if each != tied)
    bar = 1 + bars_of(etude.analysis).index(bars[1])
    with pytest.raises(BriefError, match=f"the notes kept in bar {bar} do not fill it"):
        write_etude(find_step("chorus"), etude.analysis, replace(etude.brief, pinned=pinned))


def test_a_file_gives_back_tied_notes_whole(tmp_path: Path) -> None:
    etude, tied, bars = tied_chorus()
    player = etude.brief.instrument
    lesson = LessonBrief(
        etude.analysis.chart,
        (Player(player, Level.ADVANCED),),
        parse_steps("13"),
        Level.ADVANCED,
        120.0,
    )
    part = part_for(etude.analysis, player)
    data = etude_file_data(etude, part, lesson)
    path = tmp_path / "chorus.json"
    path.write_text(json.dumps(data))
    numbers = frozenset(1 + bars_of(etude.analysis).index(bar) for bar in bars)
    for kept in (numbers, frozenset({max(numbers)})):
        notes, _ = kept_notes(path, kept, part)
        chosen = [bars_of(etude.analysis)[number - 1] for number in kept]
        assert heard(notes) == heard(inside(etude, chosen))
        assert (tied.onset, tied.beats, str(tied.pitch)) in heard(notes)


def test_notes_that_overlap_cannot_stand() -> None:
    analysis = analyse(read_chart_text("| Cmaj7 | Dm7 | G7 | Cmaj7 |"))
    twice = (note(4, 4, "C5"), note(4, 4, "E5"))
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 120.0, pinned=twice)
    with pytest.raises(BriefError, match="the notes kept in bar 2 do not fill it"):
        write_etude(find_step("one-line"), analysis, brief)
