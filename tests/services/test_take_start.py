"""Where bar 1 is taken to begin in a take beside its backing, and what is not known then.

A line is made up and played over a backing that counts four seconds in; what a player does to
it is added to its seconds.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from halfstep.etude.etude_notes import EtudeNote
from halfstep.instruments import INSTRUMENTS
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.part.take_part import WrittenTake
from halfstep.pitch import parse_pitch
from halfstep.services.hear_take import Listening
from halfstep.services.known_backing import KnownBacking
from halfstep.services.lesson_lines import LessonLine
from halfstep.services.take_frame import TakeFrame
from halfstep.services.take_start import FormStart, StartSource, start_of_form
from typed_charts import read_chart_text

CHART = read_chart_text("| Dm7 | G7 | Cmaj7 | A7 | Fmaj7 | Bm7b5 E7 | Am7 | D7 |")
FORM, BAR, QUARTER_S = 32, 4, 0.5
"""Of the chart, in quarter notes."""
BACKING = KnownBacking(Path("band.mp3"), 4.0, CHART, 120.0)
SCALE = ("C4", "D4", "E4", "F4", "G4", "A4", "B4", "C5", "D5", "E5")


def _line() -> tuple[EtudeNote, ...]:
    """Eighths with a rest now and then, none like another."""
    chance, place, notes = random.Random(11), 4, []
    for eighth in range(2 * FORM):
        place = min(9, max(0, place + chance.choice([-3, -2, -1, 1, 2, 3])))
        if chance.random() < 0.8:
            onset = Fraction(eighth, 2)
            notes.append(EtudeNote(onset, Fraction(1, 2), parse_pitch(SCALE[place]), 0))
    return tuple(notes)


LINE = LessonLine("scale", "scale", "flute", _line())
FRAME = TakeFrame(120.0, CHART, (LINE,), is_named=True)

Played = list[tuple[float, int]]
"""Quarter notes from bar 1, and MIDI numbers."""


def played(rise: int = 0) -> Played:
    """Two choruses of the line."""
    return [
        (float(note.onset) + turn * FORM, note.midi + rise)
        for turn in range(2)
        for note in LINE.notes
    ]


def jumped(at: int, back: int) -> Played:
    """The line up to a place, and from there on so many quarter notes behind, or before."""
    before = [(onset, midi) for onset, midi in played() if onset < at]
    return before + [(onset + back, midi) for onset, midi in played() if onset >= at - back]


def take_of(notes: Played, bar_1_s: float) -> HeardTake:
    """What is in a recording in which bar 1 begins at some time, from its first second on."""
    times = [(bar_1_s + onset * QUARTER_S, midi) for onset, midi in notes]
    sounds = [HeardNote(s, s + 0.2, m, 0.0, -12.0, 0.9, m) for s, m in times if s >= 0]
    return HeardTake(tuple(sounds), sounds[-1].offset_s + 1)


def start_in(take: HeardTake, backing: KnownBacking | None = BACKING) -> FormStart:
    return start_of_form(FRAME, take, backing, start_s=None)


@pytest.mark.parametrize("delay_s", [0.0, 0.12, 0.3])
@pytest.mark.parametrize(
    "notes",
    [played(), jumped(12, 8), jumped(16, -8), jumped(12, 12), jumped(3 * BAR, BAR), played(-2)],
    ids=["as written", "repeat", "skip", "from the top", "a bar late", "in the wrong key"],
)
def test_bar_1_is_where_the_count_in_ends_however_the_line_goes_on(
    notes: Played, delay_s: float
) -> None:
    start = start_in(take_of(notes, 4.0 + delay_s))
    assert start.source is StartSource.NOTES
    assert start.start_s == pytest.approx(4.0 + delay_s, abs=0.05)
    assert "the backing's count-in have it" in start.notice


@pytest.mark.parametrize("bar_1_s", [-7.3, -2.0, 0.4, 2.6, 5.3, 9.0])
def test_a_recording_that_begins_at_another_time_is_placed_by_its_notes(bar_1_s: float) -> None:
    start = start_in(take_of(played(), bar_1_s))
    assert start.source is StartSource.NOTES
    assert start.start_s is not None
    choruses = (start.start_s - bar_1_s) / (FORM * QUARTER_S)
    assert choruses == pytest.approx(round(choruses), abs=0.01)
    assert "% sure" in start.notice


def test_without_a_backing_two_places_are_not_clear() -> None:
    start = start_in(take_of(jumped(36, 8), 4.1), None)
    assert (start.source, start.start_s) == (StartSource.NOTHING, None)


def test_a_backing_in_another_tempo_says_nothing() -> None:
    slower = replace(BACKING, quarters_a_minute=100.0)
    start = start_in(take_of(jumped(36, 8), 4.1), slower)
    assert start.source is StartSource.NOTHING
    assert "began with" not in start.notice


def test_where_notes_do_not_say_it_the_time_to_say_is_named() -> None:
    chance = random.Random(2)
    notes = [(n / 2, chance.randint(60, 79)) for n in range(64)]
    start = start_in(take_of(notes, 4.1))
    assert start.source is StartSource.NOTHING
    assert start.notice.endswith(
        "say it with `start_s` (4.00 if the recording began with the backing)"
    )


# --- what is known of early and late -----------------------------------------------------


def listening_of(take: HeardTake, backing: KnownBacking | None, start: FormStart) -> Listening:
    written = WrittenTake(take, INSTRUMENTS["flute"], "take", 4.0, CHART, start.start_s)
    return Listening(written, FRAME, backing, start, ())


@pytest.mark.parametrize(
    ("delay_s", "backing", "start", "is_known"),
    [
        (None, BACKING, FormStart(StartSource.NOTES, 4.1), False),
        (None, BACKING, FormStart(StartSource.REQUEST, 4.1), False),
        (0.1, BACKING, FormStart(StartSource.BACKING), True),
        (0.1, BACKING, FormStart(StartSource.REQUEST, 4.1), True),
        (0.1, BACKING, FormStart(StartSource.NOTES, 4.1), False),
        (0.1, KnownBacking(Path("band.mp3")), FormStart(StartSource.FILE), False),
        (0.1, KnownBacking(Path("band.mp3")), FormStart(StartSource.REQUEST, 4.1), False),
    ],
)
def test_early_and_late_mean_something_by_our_own_backing_alone(
    delay_s: float | None, backing: KnownBacking, start: FormStart, *, is_known: bool
) -> None:
    take = replace(take_of(played(), 4.1), delay_s=delay_s)
    assert listening_of(take, backing, start).clock.is_offset_known is is_known


@pytest.mark.parametrize("count", [6, 40])
def test_a_backing_that_does_not_say_its_bar_1_is_told_as_such(count: int) -> None:
    """Few notes cannot say it, many without a plan do not."""
    chance = random.Random(4)
    notes = [(n / 2, chance.randint(60, 79)) for n in range(count)]
    take = replace(take_of(notes, 0.1), delay_s=0.1)
    start = start_in(take, KnownBacking(Path("band.mp3")))
    assert start.source is StartSource.FILE
    assert "the backing does not say where its bar 1 is" in start.notice
