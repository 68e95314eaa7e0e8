"""Does a lesson keep to the notes that its players know?

The students, their notes and the progression are invented.
"""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.errors import BriefError
from halfstep.lesson.make import make_lesson
from halfstep.pitch import parse_pitch
from halfstep.services.make_lesson import MakeLesson, lesson_brief

CHART = "| Fmaj7 | Gm7 C7 | Fmaj7 | C7 |"
FEW = "D4 E4 F4 F#4 G4 A4 Bb4 B4 C5 D5"


def request(known_notes: str, *instruments: str, steps: str = "1") -> MakeLesson:
    return MakeLesson(CHART, Path("lesson"), instruments, steps, known_notes=known_notes)


@pytest.mark.parametrize("instrument", ["alto-sax:beginner", "flute:beginner", "clarinet"])
def test_a_lesson_keeps_to_written_notes_that_are_known(instrument: str) -> None:
    lesson = make_lesson(lesson_brief(request(FEW, instrument, steps="root-third,rhythm")))
    (player,) = lesson.players
    written = {
        player.instrument.written(note.pitch).midi
        for etude in player.etudes
        for note in etude.notes
        if note.pitch
    }
    assert written
    assert written <= {parse_pitch(name).midi for name in FEW.split()}


def test_who_knows_all_notes_gets_what_a_class_gets() -> None:
    both = make_lesson(lesson_brief(request("", "alto-sax", "tenor-sax")))
    assert [player.player.known for player in both.players] == [None, None]


@pytest.mark.parametrize(
    ("notes", "line"),
    [
        ("G4 A4", "it works with written B4 and C♯5 added"),
        ("H9", "known_notes"),
        ("C2 D2", "choose another level or other notes"),
    ],
)
def test_what_cannot_be_played_is_one_line(notes: str, line: str) -> None:
    with pytest.raises(BriefError, match=line) as refused:
        make_lesson(lesson_brief(request(notes, "alto-sax:beginner")))
    assert "\n" not in str(refused.value)
