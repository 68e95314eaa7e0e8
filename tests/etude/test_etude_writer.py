"""Etudes keep their promises: asked again here in plain code, not with the writer's rules."""

from __future__ import annotations

import random
from bisect import bisect_right
from fractions import Fraction
from itertools import pairwise

import pytest
from etude_charts import (
    FIRST_SIX,
    METERS,
    TWELVE_KEYS,
    analysis_named,
    briefs,
    chart_with,
    etude_charts,
    random_chart,
    written,
)
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.errors import BriefError
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import RuleBroken, octaves_apart, write_etude
from halfstep.etude.steps import find_step
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import AnalysedChord, analyse
from halfstep.instruments import INSTRUMENTS, Compass
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.pitch import parse_pitch
from halfstep.progression.chart import Chart
from name_intervals import ascending
from strategies import ROOTS
from typed_charts import read_chart_text

STRONG = {
    "4/4": {0, 2},
    "3/4": {0},
    "6/8": {0, Fraction(3, 2)},
    "5/4": {0, 3},
    "2/2": {0, 2},
}
"""Strong beats in quarters from the bar's start; common practice, no source."""

STEPS = st.sampled_from(FIRST_SIX)
QUALITIES = (
    "", "m", "dim", "+", "sus4", "sus2", "5", "6", "m6", "6/9", "7", "9", "11", "13", "maj7",
    "maj9", "m7", "m9", "m(maj7)", "m7b5", "dim7", "7#5", "maj7#5", "7alt", "7b9", "7#9", "7#11",
    "7b13", "7sus4", "add9",
)  # fmt: skip
"""One suffix or more for every family of chords."""


def midi(note: EtudeNote) -> int:
    assert note.pitch
    return note.pitch.midi


def classes(here: AnalysedChord) -> set[int]:
    """Pitch classes of the chord's tones."""
    return {tone.name.pitch_class for tone in here.tones}


def arpeggio(here: AnalysedChord) -> set[int]:
    """Pitch classes of the tones up to the seventh; the altered scale may lack the fifth."""
    tones = [tone for tone in here.tones if tone.degree.number <= 7]
    outside = [tone for tone in tones if tone.name.pitch_class not in here.scale.pitch_classes]
    assert not outside or here.scale.mode.label == "altered"
    assert all(tone.degree.number == 5 for tone in outside)
    return {tone.name.pitch_class for tone in tones} & here.scale.pitch_classes


def owner(etude: Etude, note: EtudeNote) -> AnalysedChord:
    """The chord that stands where the note starts, or the one that an advanced player has early."""
    chords = etude.analysis.chords
    own = chords[note.chord]
    if note.pitch and note.onset < own.span.start < note.end:
        assert etude.brief.level is Level.ADVANCED
        assert own.span.start - note.onset <= Fraction(1, 2)
        return own
    return chords[bisect_right(chords, note.onset, key=lambda chord: chord.span.start) - 1]


def is_strong(etude: Etude, note: EtudeNote) -> bool:
    meter = etude.analysis.chart.meter
    at_chord = note.onset == owner(etude, note).span.start
    return at_chord or note.onset % meter.bar_beats in STRONG[str(meter)]


def windows(etude: Etude, size: int) -> list[tuple[EtudeNote, ...]]:
    """Notes in a row without a rest among them."""
    notes = etude.notes
    rows = [notes[n : n + size] for n in range(len(notes) - size + 1)]
    return [tuple(row) for row in rows if all(note.pitch for note in row)]


def rests(etude: Etude, note: EtudeNote) -> bool:
    """An eighth on a beat that is left out, from intermediate on."""
    eighth = note.beats == Fraction(1, 2) and etude.brief.level is not Level.BEGINNER
    return eighth and etude.step.name in {"broken-arpeggio", "turning-scale"}


def check_every_step(etude: Etude) -> None:
    chart, instrument = etude.analysis.chart, etude.brief.instrument
    compass = instrument.compass(etude.brief.level)
    assert etude.notes[0].onset == 0
    assert sum(note.beats for note in etude.notes) == chart.beats
    assert all(old.onset + old.beats == new.onset for old, new in pairwise(etude.notes))
    for note in etude.notes:
        here = owner(etude, note)
        if note.pitch is None:
            assert here.silent or rests(etude, note)
            continue
        assert not here.silent
        assert here is etude.analysis.chords[note.chord]
        assert compass.low.midi <= (note.pitch + instrument.rise).midi <= compass.high.midi
        assert note.pitch.name in here.scale.names
        assert note.degree
        root = here.span.symbol.root.pitch_class
        assert (root + note.degree.semitones) % 12 == midi(note) % 12
        sevenths = {(pc - root) % 12 for pc in classes(here)}
        if is_strong(etude, note) and 4 in sevenths and 5 not in sevenths:
            assert (midi(note) - root) % 12 != 5
        assert note.end <= here.span.end
    for first, second, third in windows(etude, 3):
        leap = midi(second) - midi(first)
        if abs(leap) > 7:
            assert leap * (midi(third) - midi(second)) < 0
        if etude.step.name != "arpeggio-in-rhythm":
            assert not midi(first) == midi(second) == midi(third)
    last = etude.notes[-1]
    if last.pitch:
        assert midi(last) % 12 in arpeggio(owner(etude, last))


def check_breaths(etude: Etude) -> None:
    """A wind player breathes at least once in what one breath holds, or in a bar."""
    meter = etude.analysis.chart.meter
    beat_s = 60 / etude.brief.tempo_bpm / (1.5 if meter.compound else 1)
    since = Fraction(0)
    for note in etude.notes:
        if note.breath:
            assert etude.brief.instrument.breath
            assert note.end % meter.bar_beats == 0
        if note.breath or note.pitch is None:
            since = note.end
        phrase_beats = note.end - since
        assert (
            not etude.brief.instrument.breath
            or phrase_beats <= meter.bar_beats
            or float(phrase_beats) * beat_s <= 9.0 + 1e-9
        )


def check_runs(etude: Etude) -> None:
    """Steps 1 and 2: only chord tones, each next to the one before, within a bar."""
    for note in etude.notes:
        assert note.pitch is None or midi(note) % 12 in arpeggio(owner(etude, note))
    bar = etude.analysis.chart.meter.bar_beats
    for old, new in windows(etude, 2):
        if old.chord == new.chord and old.onset // bar == new.onset // bar:
            low, high = sorted((midi(old), midi(new)))
            assert not any(m % 12 in arpeggio(owner(etude, new)) for m in range(low + 1, high))


def check_broken(etude: Etude) -> None:
    """Step 3: only chord tones; across a change the nearest one, or one as near."""
    for note in etude.notes:
        assert note.pitch is None or midi(note) % 12 in arpeggio(owner(etude, note))
    low, high = etude.brief.concert_low, etude.brief.concert_high
    for old, new in windows(etude, 2):
        if old.chord != new.chord:
            tones = [m for m in range(low, high + 1) if m % 12 in arpeggio(owner(etude, new))]
            others = [abs(m - midi(old)) for m in tones if m != midi(old)]
            assert abs(midi(new) - midi(old)) <= min(others, default=0)


def check_scale(etude: Etude) -> None:
    """Step 4: within a chord always the next note of the scale, or the same again."""
    for old, new in windows(etude, 2):
        if old.chord == new.chord:
            low, high = sorted((midi(old), midi(new)))
            scale = owner(etude, new).scale.pitch_classes
            assert not any(m % 12 in scale for m in range(low + 1, high))


def check_turning(etude: Etude) -> None:
    """Step 5: no more than seven notes one way, nothing wider than a sixth."""
    for row in windows(etude, 8):
        moves = [midi(b) - midi(a) for a, b in pairwise(row)]
        assert not all(m > 0 for m in moves)
        assert not all(m < 0 for m in moves)
    assert all(0 < abs(midi(b) - midi(a)) <= 9 for a, b in windows(etude, 2))


def check_one_line(etude: Etude) -> None:
    """Step 6: all it says in the list of steps."""
    chords = etude.analysis.chords
    for note in etude.notes:
        if note.pitch and is_strong(etude, note):
            assert midi(note) % 12 in classes(owner(etude, note))
    for first, second, third in windows(etude, 3):
        lasting = chords[second.chord].span.beats >= 2 and chords[third.chord].span.beats >= 2
        if third.chord != second.chord and lasting:
            assert (midi(second) - midi(first)) * (midi(third) - midi(second)) > 0
    for old, new in windows(etude, 2):
        assert 0 < abs(midi(new) - midi(old)) <= 9
        if old.chord != new.chord and chords[new.chord].span.beats >= 2:
            assert abs(midi(new) - midi(old)) <= 4
    check_change_heard(etude)
    check_eighths(etude)


def check_change_heard(etude: Etude) -> None:
    """Step 6: a new note is among a chord's first two, or third after two strong beats."""
    chords = etude.analysis.chords
    for index in range(1, len(chords)):
        old, new = chords[index - 1], chords[index]
        if old.silent or new.silent or new.span.beats < 2:
            continue
        fresh = new.scale.pitch_classes - old.scale.pitch_classes
        own = [note for note in etude.notes if note.chord == index and note.pitch]
        late = len(own) > 1 and (is_strong(etude, own[1]) or own[1] is etude.notes[-1])
        first = own[: 3 if late and not fresh & classes(new) else 2]
        if fresh and len(own) > 2:
            assert any(midi(note) % 12 in fresh for note in first)


def check_eighths(etude: Etude) -> None:
    """Step 6: eighths all along but for phrase ends, and pieces of beats at odd places.

    A player who may not cross the break after an eighth may have a beat before a change; from
    intermediate on a note is held for a beat here and there.
    """
    if etude.brief.level is not Level.BEGINNER:
        return
    meter = etude.analysis.chart.meter
    ends = {chord.span.end for chord in etude.analysis.chords if etude.brief.barrier}
    for note in etude.notes[:-1]:
        if note.pitch and note.beats != Fraction(1, 2):
            assert note.end % meter.bar_beats == 0 or note.end in ends
            assert note.beats <= (meter.pulse_beats if meter.compound else 1)


CHECKS = {
    "arpeggio": check_runs,
    "arpeggio-in-rhythm": check_runs,
    "broken-arpeggio": check_broken,
    "scale": check_scale,
    "turning-scale": check_turning,
    "one-line": check_one_line,
}


def check(etude: Etude) -> None:
    check_every_step(etude)
    check_breaths(etude)
    CHECKS[etude.step.name](etude)


@pytest.mark.slow
@given(etude_charts(), briefs(), STEPS)
@settings(max_examples=100)
def test_an_etude_keeps_its_promises(chart: Chart, brief: Brief, step: str) -> None:
    check(write_etude(find_step(step), analyse(chart, level=brief.level), brief))


@pytest.mark.slow
@pytest.mark.parametrize("key", TWELVE_KEYS, ids=str)
def test_every_key_has_all_its_steps(key: object) -> None:
    """The invented twelve bars from B♭ to each of the twelve keys, on alto saxophone."""
    chart = analysis_named("twelve bars", Level.BEGINNER).chart
    assert chart.key
    moved = chart.moved(ascending(chart.key.tonic, key))  # type: ignore[arg-type]
    brief = Brief(INSTRUMENTS["alto-sax"], Level.BEGINNER, 100.0)
    for step in ("arpeggio", "scale", "one-line"):
        check(write_etude(find_step(step), analyse(moved, level=Level.BEGINNER), brief))


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("instrument", INSTRUMENTS)
def test_every_instrument_has_the_first_lesson(instrument: str) -> None:
    for step in FIRST_SIX:
        check(written(step, "evening class", instrument, Level.BEGINNER))


@pytest.mark.slow
@pytest.mark.parametrize("root", ROOTS[:17])
def test_every_kind_of_chord_on_every_root_can_be_written(root: str) -> None:
    """One bar and one beat of every third quality, between plain chords, for a small range.

    Qualities and steps go round at two speeds: each quality meets five roots or six, each step
    five, and both together two.
    """
    turn = ROOTS.index(root)
    qualities = QUALITIES[turn % 3 :: 3]
    brief = Brief(INSTRUMENTS["trumpet"], Level.BEGINNER, 120.0)
    chords: list[tuple[Fraction, str]] = []
    for place, quality in enumerate(qualities):
        at = Fraction(8 * place)
        chords += [(at, root + quality), (at + 4, "F7"), (at + 5, root + quality), (at + 6, "Gm7")]
    analysis = analyse(chart_with(Meter(4, 4), 2 * len(qualities), chords))
    for step in FIRST_SIX[turn // 3 % 3 :: 3]:
        check(write_etude(find_step(step), analysis, brief))


@pytest.mark.slow
@pytest.mark.parametrize("part", range(4))
def test_nothing_with_whole_beats_is_refused(part: int) -> None:
    """48 random charts in all, three steps over each: none is refused, none breaks a promise.

    The steps take turns, so that each meets twenty-four charts.
    """
    rng = random.Random(part)
    refused = []
    for turn in range(12):
        meter = rng.choice(METERS)
        level = rng.choice(list(Level))
        instrument = rng.choice(list(INSTRUMENTS.values()))
        brief = Brief(instrument, level, float(rng.randint(40, 300)), rng.randint(0, 9999))
        analysis = analyse(random_chart(rng, meter), level=level)
        for step in FIRST_SIX[turn % 2 :: 2]:
            try:
                check(write_etude(find_step(step), analysis, brief))
            except BriefError as error:
                refused.append(str(error))
    assert refused == []


@pytest.mark.slow
@given(etude_charts(), briefs(), STEPS)
@settings(max_examples=25)
def test_the_same_seed_writes_the_same_etude(chart: Chart, brief: Brief, step: str) -> None:
    analysis = analyse(chart, level=brief.level)
    assert (
        write_etude(find_step(step), analysis, brief).notes
        == write_etude(find_step(step), analysis, brief).notes
    )


@pytest.mark.sampled
@pytest.mark.parametrize("name", ["evening class", "dominants", "minor", "waltz"])
@pytest.mark.parametrize("step", ["broken-arpeggio", "turning-scale", "one-line"])
def test_another_seed_writes_another_etude(step: str, name: str) -> None:
    """Over eight bars four seeds write four etudes."""
    etudes = [written(step, name, "tenor-sax", Level.INTERMEDIATE, seed).notes for seed in range(4)]
    assert len(set(etudes)) == 4


def test_where_there_is_no_chord_there_is_a_rest() -> None:
    chart = read_chart_text("| C7 | N.C. | F7 . N.C. . | C7 |")
    analysis = analyse(chart)
    for step in FIRST_SIX:
        etude = write_etude(
            find_step(step), analysis, Brief(INSTRUMENTS["flute"], Level.BEGINNER, 100.0)
        )
        rests = [(note.onset, note.beats) for note in etude.notes if note.pitch is None]
        assert rests == [(4, 4), (10, 2)]
        check(etude)


def test_changing_notes_are_marked_once_in_each_chord() -> None:
    etude = written("one-line", "evening class", "alto-sax", Level.INTERMEDIATE)
    chords = etude.analysis.chords
    marked = [(note.chord, midi(note) % 12) for note in etude.notes if note.changing]
    assert len(set(marked)) == len(marked) > 3
    for chord, pitch_class in marked:
        assert chord > 0
        assert pitch_class in chords[chord].scale.pitch_classes
        assert pitch_class not in chords[chord - 1].scale.pitch_classes


def test_a_run_off_its_root_is_told_to_the_teacher() -> None:
    """A run that goes neither from nor to its root is named with its bars."""
    etude = written("scale", "twelve bars", "trumpet", Level.BEGINNER)
    chords = [chord for notice in etude.notices for chord in notice.chords]
    told = {str(etude.analysis.chords[chord].span.symbol) for chord in chords}
    for index, here in enumerate(etude.analysis.chords):
        own = [note.degree for note in etude.notes if note.chord == index and note.degree]
        off = len(own) > 2 and 1 not in {own[0].number, own[-1].number}
        assert not off or str(here.span.symbol) in told
    assert told


@pytest.mark.parametrize("step", ["arpeggio", "one-line"])
def test_a_range_that_holds_no_note_is_refused_with_its_reason(step: str) -> None:
    """The message names chord, instrument and level."""
    trumpet = INSTRUMENTS["trumpet"]
    two_notes = Compass(parse_pitch("C#4"), parse_pitch("D4"))
    small = trumpet._replace(compasses=(two_notes, *trumpet.compasses[1:]))
    analysis = analyse(read_chart_text("key: F\n| F7 | Bbm |"), level=Level.BEGINNER)
    with pytest.raises(BriefError, match=r"no note of B♭m .* trumpet at level beginner"):
        write_etude(find_step(step), analysis, Brief(small, Level.BEGINNER, 120.0))


@pytest.mark.parametrize("step", ["broken-arpeggio", "scale", "one-line"])
def test_a_range_with_no_room_for_a_line_is_refused_with_its_reason(step: str) -> None:
    """Three half steps hold chord tones, but no line."""
    trumpet = INSTRUMENTS["trumpet"]
    narrow = Compass(parse_pitch("F4"), parse_pitch("G4"))
    small = trumpet._replace(compasses=(narrow, *trumpet.compasses[1:]))
    analysis = analyse(read_chart_text("key: F\n| F7 | Eb7 |"), level=Level.BEGINNER)
    with pytest.raises(
        BriefError, match=rf"step {find_step(step).short_name} .*trumpet at level beginner"
    ):
        write_etude(find_step(step), analysis, Brief(small, Level.BEGINNER, 120.0))


def test_limits_narrow_the_range_further() -> None:
    brief = Brief(INSTRUMENTS["alto-sax"], Level.ADVANCED, 120.0, limits=(58, 72))
    etude = write_etude(
        find_step("one-line"), analysis_named("evening class", Level.ADVANCED), brief
    )
    sounding = [midi(note) for note in etude.notes if note.pitch]
    assert 58 <= min(sounding) <= max(sounding) <= 72


def test_a_line_an_octave_lower_is_the_same_line() -> None:
    """Alto's line for baritone saxophone; out of its range it is refused."""
    etude = written("one-line", "evening class", "alto-sax", Level.BEGINNER)
    baritone = Brief(INSTRUMENTS["baritone-sax"], Level.BEGINNER, 120.0)
    lower = octaves_apart(etude, baritone, -1)
    assert [midi(n) for n in lower.notes] == [midi(n) - 12 for n in etude.notes]
    assert [n.pitch.name for n in lower.notes if n.pitch] == [
        n.pitch.name for n in etude.notes if n.pitch
    ]
    check(lower)
    with pytest.raises(RuleBroken, match="range"):
        octaves_apart(etude, baritone, 1)


@pytest.mark.parametrize("level", [Level.BEGINNER, Level.ADVANCED])
@pytest.mark.parametrize("name", ["arpeggio", "arpeggio-in-rhythm", "scale", "cells"])
def test_what_is_told_of_several_chords_is_told_once(name: str, level: Level) -> None:
    """Each lead stands once, and each chord after it once."""
    etude = written(name, "twelve bars", "trumpet", level)
    leads = [notice.text.partition(":")[0] for notice in etude.notices]
    assert len(leads) == len(set(leads))
    for notice in etude.notices:
        items = notice.sentence(lambda chord: etude.analysis.chords[chord].span.symbol).split(": ")
        assert len(items) == 2
