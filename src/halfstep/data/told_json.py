"""What is said of a take in words, as data: to the student, and to the teacher.

A page that shows a stored take says the same as the sheets that were printed of it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from halfstep.errors import ReadError
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.next_things import NextThing
from halfstep.feedback.strengths import Strength
from halfstep.lesson.student_words import StudentThing, strength_words, thing_words
from halfstep.lesson.teacher_digest import DigestRow, TeacherDigest, teacher_digest
from halfstep.part.places import bar_number
from halfstep.part.transposed_part import chords_in_bars


def told_data(
    feedback: Feedback, best: Strength | None, things: Sequence[NextThing]
) -> dict[str, Any]:
    """The words for both readers."""
    digest = teacher_digest(feedback)
    return {
        "strength": strength_words(best, feedback),
        "things": [_thing(thing_words(thing, feedback)) for thing in things],
        "changes": digest.changes,
        "mend": [_row(row) for row in digest.mend],
        "craft": [_row(row) for row in digest.craft],
        "doubts": list(digest.doubts),
        "not_judged": list(digest.not_judged),
        "bars": list(_bars(feedback.take)),
    }


def _bars(take: JudgedTake) -> Iterator[dict[str, Any]]:
    """Every bar of every pass that is played in, with where it begins."""
    end = max((note.sounded for note in take.notes), default=0.0)
    bars = list(chords_in_bars(take.analysis))
    for chorus in range(1, max(1, take.place_at(end).chorus) + 1):
        for number, (bar, start, written) in enumerate(bars, start=1):
            beats = (chorus - 1) * take.form.beats + float(start)
            if chorus == 1 or beats <= end:
                yield {
                    "pass": chorus,
                    "bar": number,
                    "number": bar_number(bar),
                    "chords": " ".join(str(take.part.symbol(chord)) for _, chord in written),
                    "time_s": round(max(0.0, take.time_s(beats)), 3),
                }


def _thing(thing: StudentThing) -> dict[str, Any]:
    return {"title": thing.title, "happened": thing.happened, "advice": thing.advice}


def _row(row: DigestRow) -> dict[str, Any]:
    return {"title": row.title, "places": list(row.places), "sureness": row.sureness}


@dataclass(frozen=True, slots=True)
class ToldBar:
    """A bar of a pass, as the player reads it.

    Attributes
    ----------
    chorus, bar : int
        The pass, and the bar of the form, from 1.
    number : str
        As printed.
    chords : str
    time_s : float
        Where it begins in the recording.
    """

    chorus: int
    bar: int
    number: str
    chords: str
    time_s: float


@dataclass(frozen=True, slots=True)
class ToldTake:
    """What was said of a take in words.

    Attributes
    ----------
    strength : str
    things : tuple of StudentThing
    digest : TeacherDigest
    bars : tuple of ToldBar
    """

    strength: str
    things: tuple[StudentThing, ...]
    digest: TeacherDigest
    bars: tuple[ToldBar, ...]


def read_told(data: dict[str, Any]) -> ToldTake:
    """What was said, from data.

    Raises
    ------
    ReadError
        When it is not as it was written.
    """
    try:
        digest = TeacherDigest(
            str(data["changes"]),
            tuple(map(_read_row, data["mend"])),
            tuple(map(_read_row, data["craft"])),
            tuple(map(str, data["doubts"])),
            tuple(map(str, data["not_judged"])),
        )
        things = tuple(StudentThing(**thing) for thing in data["things"])
        return ToldTake(str(data["strength"]), things, digest, tuple(_read_bars(data["bars"])))
    except (KeyError, TypeError, AttributeError):
        raise ReadError("the words of the feedback are not as Halfstep writes them") from None


def _read_bars(bars: list[dict[str, Any]]) -> Iterator[ToldBar]:
    for bar in bars:
        yield ToldBar(bar["pass"], bar["bar"], bar["number"], bar["chords"], float(bar["time_s"]))


def _read_row(data: dict[str, Any]) -> DigestRow:
    return DigestRow(str(data["title"]), tuple(map(str, data["places"])), str(data["sureness"]))
