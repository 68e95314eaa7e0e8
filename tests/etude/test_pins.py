"""A teacher's notes stand, and the rest is written around them; other lines for one brief."""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from itertools import combinations

import pytest
from etude_charts import INVENTED, analysis_named, briefs, etude_charts
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.etude.heard import shared_bars
from halfstep.etude.parts import Brief, Etude, EtudeNote
from halfstep.etude.tables import LAYOUTS, RUN_LAYOUTS
from halfstep.etude.write import write_etude, write_etudes
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS, Level
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import Chart
from halfstep.progression.text import read_chart_text

STEPS = sorted({*LAYOUTS, *RUN_LAYOUTS})


def bars_of(analysis: Analysis) -> list[tuple[Fraction, Fraction]]:
    return [(start, start + bar.beats) for bar, start in analysis.chart.placed()]


def inside(etude: Etude, bars: list[tuple[Fraction, Fraction]]) -> tuple[EtudeNote, ...]:
    """The notes that begin in those bars."""
    return tuple(n for n in etude.notes if any(low <= n.onset < high for low, high in bars))


def heard(notes: tuple[EtudeNote, ...]) -> list[tuple[Fraction, Fraction, str]]:
    return [(note.onset, note.beats, str(note.pitch)) for note in notes]


@pytest.mark.parametrize("step", STEPS)
def test_kept_bars_come_back_as_they_were(step: int) -> None:
    """Bars of another seed's line are kept, and what is written around them adds up."""
    rng = random.Random(step)
    for name in rng.sample(list(INVENTED), 4):
        analysis = analysis_named(name, Level.INTERMEDIATE)
        brief = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 1)
        bars = bars_of(analysis)
        kept = rng.sample(bars, rng.randint(1, len(bars) - 1))
        pinned = inside(write_etude(step, analysis, replace(brief, seed=50)), kept)
        etude = write_etude(step, analysis, replace(brief, pinned=pinned))
        assert heard(inside(etude, kept)) == heard(pinned)
        assert sum(note.beats for note in etude.notes) == analysis.chart.beats


@given(etude_charts(), briefs(), st.sampled_from(STEPS), st.randoms(use_true_random=False))
@settings(max_examples=60)
def test_any_bars_may_be_kept(chart: Chart, brief: Brief, step: int, rng: random.Random) -> None:
    """A line can always be written around bars of a line that was written."""
    analysis = analyse(chart, level=brief.level)
    try:
        before = write_etude(step, analysis, brief)
    except BriefError:
        return
    bars = bars_of(analysis)
    kept = rng.sample(bars, rng.randint(1, len(bars)))
    pinned = inside(before, kept)
    etude = write_etude(step, analysis, replace(brief, pinned=pinned))
    assert heard(inside(etude, kept)) == heard(pinned)


@pytest.mark.parametrize("step", [step for step in STEPS if step >= 1])
def test_joints_keep_the_rules_when_they_can(step: int) -> None:
    """Into its own bars a line can keep every rule, so no notice says that it did not."""
    for name in ("evening class", "minor"):
        analysis = analysis_named(name, Level.INTERMEDIATE)
        brief = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 3)
        etude = write_etude(step, analysis, brief)
        pinned = inside(etude, bars_of(analysis)[2:4])
        again = write_etude(step, analysis, replace(brief, pinned=pinned))
        assert not any("notes that stand" in notice.text for notice in again.notices)


def note(onset: int, beats: int, pitch: str | None) -> EtudeNote:
    return EtudeNote(Fraction(onset), Fraction(beats), parse_pitch(pitch) if pitch else None, 0)


@pytest.mark.parametrize("step", [step for step in STEPS if step >= 1])
def test_a_teacher_may_break_every_rule(step: int) -> None:
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
    etude = write_etude(step, analysis, brief)
    assert heard(inside(etude, [(Fraction(4), Fraction(12))])) == heard(wild)


def test_a_joint_that_cannot_keep_a_rule_says_so() -> None:
    analysis = analyse(read_chart_text("| Cmaj7 | Dm7 | G7 | Cmaj7 |"))
    far = tuple(note(at, 1, "Gb6") for at in (4, 5, 6, 7))
    brief = Brief(INSTRUMENTS["alto-sax"], Level.BEGINNER, 120.0, 2, pinned=far)
    notices = [each.text for each in write_etude(6, analysis, brief).notices]
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
    for step in (1, 6):
        with pytest.raises(BriefError, match=f"^{said}$"):
            write_etude(step, analysis, brief)


@pytest.mark.parametrize("step", [step for step in STEPS if step >= 1 and step != 7])
def test_lines_for_one_brief_share_fewer_than_half_their_bars(step: int) -> None:
    """Not asked of guide tones, which leave two ways through a chart."""
    for name in ("evening class", "sixteen bars", "waltz"):
        brief = Brief(INSTRUMENTS["trumpet"], Level.INTERMEDIATE, 120.0, 1)
        etudes = write_etudes(step, analysis_named(name, Level.INTERMEDIATE), brief, 4)
        assert all(shared_bars(one, other) < 0.5 for one, other in combinations(etudes, 2))
        assert etudes[0] == write_etude(step, analysis_named(name, Level.INTERMEDIATE), brief)


def test_shared_bars_are_counted() -> None:
    """One bar of two differs by a note: half is shared; an etude shares all with itself."""
    analysis = analyse(read_chart_text("| Cmaj7 | G7 |"))
    etude = write_etude(6, analysis, Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 120.0))
    changed = (replace(etude.notes[0], pitch=parse_pitch("F#3")), *etude.notes[1:])
    assert shared_bars(etude, etude) == 1.0
    assert shared_bars(etude, replace(etude, notes=changed)) == 0.5
