"""A player in other bars than the band is told so where the line leaves bars to the player, too.

What is played in those bars, nothing, echoes or notes of the player's own, hides no slip, and
nothing of the line seems to be missed there.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import pytest

from feedback.played_takes import PlayedTone, line_of, played, take_of
from halfstep.feedback.findings import FindingKind
from halfstep.feedback.form_places import FormPlaces, form_places
from halfstep.feedback.judge import judge
from halfstep.feedback.line_alignment import LoopedLine, align
from halfstep.feedback.open_bars import Echo, OpenBars, open_bars
from halfstep.feedback.written_line import looped_line

CHART = "twelve bars"
FORM_BARS, BAR, AT = 12, 4.0, 16.0
PASSES = 2
Tones = list[PlayedTone]


def session(step: str, answer: str) -> Tones:
    """A line and what is played in the bars that it leaves."""
    analysis, line = line_of(step, CHART, seed=2)
    form = form_places(analysis)
    left = open_bars(line, form)
    calls = played(analysis, line, passes=PASSES, spread=0.03)
    replies = {"nothing": [], "echoes": left.echoes, "own notes": list(own_notes(left, form))}
    again = [
        PlayedTone(reply.place + turn * form.beats, 0.4, reply.midi)
        for turn in range(PASSES)
        for reply in replies[answer]
    ]
    return sorted([*calls, *again], key=lambda tone: tone.onset)


def own_notes(left: OpenBars, form: FormPlaces) -> Iterator[Echo]:
    rng = random.Random(4)
    for number in sorted(left.numbers):
        for eighth in rng.sample(range(8), 5):
            yield Echo(form.bar_starts[number - 1] + eighth / 2, rng.randint(58, 75))


def before(tones: Tones, until: float) -> Tones:
    return [tone for tone in tones if tone.onset < until - 0.3]


def later(tones: Tones, start: float, beats: float) -> Tones:
    return [replace(t, onset=t.onset + beats) for t in tones if t.onset >= start - 0.3]


def slipped(tones: Tones, kind: str) -> Tones:
    """From bar 5 on the player is somewhere else, as long as the band plays."""
    elsewhere = {
        "a bar late": [*before(tones, AT), *later(tones, AT, BAR)],
        "two bars late": [*before(tones, AT), *later(tones, AT, 2 * BAR)],
        "a bar early": [*before(tones, AT - BAR), *later(tones, AT, -BAR)],
        "repeat": [*before(tones, AT), *later(tones, AT - 2 * BAR, 2 * BAR)],
        "skip": [*before(tones, AT), *later(tones, AT + 2 * BAR, -2 * BAR)],
        "fresh start": [*before(tones, AT), *later(tones, 0.0, AT + BAR)],
    }[kind]
    return before(elsewhere, PASSES * FORM_BARS * BAR)


BARS = {"a bar late": 1, "two bars late": 2, "a bar early": -1, "repeat": 2, "skip": -2,
        "fresh start": 5}  # fmt: skip


@pytest.mark.parametrize("answer", ["nothing", "echoes", "own notes"])
@pytest.mark.parametrize("kind", BARS)
def test_a_slip_is_told_and_nothing_seems_missed(kind: str, answer: str) -> None:
    analysis, line = line_of("call-and-response", CHART, seed=2)
    tones = slipped(session("call-and-response", answer), kind)
    findings = judge(take_of(tones, analysis, line=line)).findings
    slips = {(f.bars or 0) % FORM_BARS for f in findings if f.kind is FindingKind.FORM_SLIP}
    assert BARS[kind] % FORM_BARS in slips
    of_notes = {FindingKind.MISSED, FindingKind.ADDED, FindingKind.CHANGED}
    assert not [finding for finding in findings if finding.kind in of_notes]


@pytest.mark.parametrize("answer", ["nothing", "echoes", "own notes"])
@pytest.mark.parametrize("step", ["call-and-response", "echo"])
def test_an_answer_in_its_place_is_neither_slip_nor_fault(step: str, answer: str) -> None:
    analysis, line = line_of(step, CHART, seed=2)
    findings = judge(take_of(session(step, answer), analysis, line=line)).findings
    kinds = {finding.kind for finding in findings if finding.fault}
    assert not kinds & {FindingKind.FORM_SLIP, FindingKind.MISSED, FindingKind.ADDED}


@pytest.mark.slow
def test_a_call_that_is_left_out_is_missed_beside_its_answer() -> None:
    """The player answers and goes on in time."""
    analysis, line = line_of("call-and-response", CHART, seed=2)
    tones = session("call-and-response", "own notes")
    silent = [tone for tone in tones if not 16 - 0.3 <= tone.onset < 24 - 0.3]
    findings = judge(take_of(silent, analysis, line=line)).findings
    kinds = {finding.kind for finding in findings}
    assert FindingKind.MISSED in kinds
    assert FindingKind.FORM_SLIP not in kinds


CHARTS = ("evening class", "minor", "waltz")
LEAST_AFTER = 12
"""Notes after a jump: a single call that is played in the bars for its answer is an answer."""
Written = list[tuple[float, int]]
"""Where each note is played, in quarter notes, and its place in the line."""


def jumped(line: LoopedLine, starts: tuple[float, ...], kind: str, bar: int) -> tuple[Written, int]:
    """Two passes with a jump in a bar, from 0, and which note is the first one after it."""
    end = PASSES * line.beats
    bars = [turn * line.beats + start for turn in range(PASSES) for start in starts]
    goes, back = {"repeat": (bars[bar], bars[bar - 2]), "skip": (bars[bar], bars[bar + 2]),
                  "fresh start": (bars[bar + 1], 0.0)}[kind]  # fmt: skip
    notes = [
        (turn * line.beats + float(note.onset), place)
        for turn in range(PASSES)
        for place, note in enumerate(line.notes)
    ]
    kept = [note for note in notes if note[0] < bars[bar]]
    again = [(at + goes - back, place) for at, place in notes if at >= back]
    return [*kept, *(note for note in again if note[0] < end)], len(kept)


@pytest.mark.slow
@pytest.mark.parametrize("kind", ["repeat", "skip", "fresh start"])
@pytest.mark.parametrize("step", ["call-and-response", "echo"])
@pytest.mark.parametrize("chart", CHARTS)
def test_after_a_jump_anywhere_the_reading_is_back_within_four_notes(
    chart: str, step: str, kind: str
) -> None:
    analysis, written = line_of(step, chart, seed=2)
    form = form_places(analysis)
    line = looped_line(written, form)
    bars = PASSES * len(form.bar_starts)
    for bar in range(2, bars - 3):
        notes, entry = jumped(line, form.bar_starts, kind, bar)
        if len(notes) - entry < LEAST_AFTER:
            continue
        alignment = align([(at, line.notes[place].midi) for at, place in notes], line)
        readings = {match.heard: match.written for match in alignment.matches}
        got = [readings.get(heard) for heard in range(entry + 4, len(notes))]
        assert got == [place for _, place in notes[entry + 4 :]], f"bar {bar + 1}"


@pytest.mark.parametrize("step", ["call-and-response", "echo"])
@pytest.mark.parametrize("chart", CHARTS)
def test_an_answer_that_quotes_the_line_is_an_answer(chart: str, step: str) -> None:
    """The first call of the line is quoted in the last bars that are left to the player."""
    analysis, written = line_of(step, chart, seed=2)
    form = form_places(analysis)
    line = looped_line(written, form)
    assert line.left
    first = max(number for number in line.left.numbers if number - 1 not in line.left.numbers)
    at = form.bar_starts[first - 1]
    quoted = [note for note in line.notes if float(note.onset) < form.bar_starts[1]]
    notes = [(float(note.onset), note.midi) for note in line.notes]
    quote = [(at + float(note.onset), note.midi) for note in quoted]
    heard = sorted(
        (turn * line.beats + onset, midi) for turn in range(PASSES) for onset, midi in notes + quote
    )
    alignment = align(heard, line)
    assert not [match for match in alignment.matches[1:] if match.jumped]
    assert [match.written for match in alignment.matches] == PASSES * [*range(len(line.notes))]


LEFT = OpenBars(16.0, (0.0, 4.0, 8.0, 12.0), frozenset({2, 4}), (Echo(4.0, 60), Echo(5.5, 62)))


def test_open_bars_come_round_and_are_begun_a_little_early() -> None:
    places = np.array([3.4, 3.6, 4.0, 7.9, 8.0, 20.0, 23.9, -1.0, -5.0])
    assert LEFT.hold(places).tolist() == [
        False, True, True, True, False, True, True, True, False,
    ]  # fmt: skip


def test_an_echo_is_a_pitch_in_any_octave_near_its_place() -> None:
    places = np.array([4.0, 4.5, 4.7, 20.3])
    assert LEFT.echo(places, 72).tolist() == [True, True, False, True]
    assert LEFT.echo(places, 61).tolist() == [False] * 4
