"""Which lines may be played in a take: those of a lesson, of a player in it, of one step."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from halfstep.data.lesson_json import exercises
from halfstep.data.line_json import ghosts_of, read_line
from halfstep.errors import BriefError, did_you_mean
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.steps import find_step
from halfstep.harmony.line_over_chords import LineNote


@dataclass(frozen=True, slots=True)
class LessonLine:
    """A step of a lesson or an etude as it is to be played, concert pitch, from bar 1.

    Attributes
    ----------
    name, step, instrument : str
        The title in small letters, and what the step and the instrument are known by.
    written : tuple of EtudeNote
        Rests included, to the end of its ending.
    level : str
        Of its player.
    ghosts : frozenset of Fraction
        Where its notes begin that are barely sounded.
    """

    name: str
    step: str
    instrument: str
    written: tuple[EtudeNote, ...]
    level: str = ""
    ghosts: frozenset[Fraction] = frozenset()

    @property
    def notes(self) -> tuple[LineNote, ...]:
        """What sounds of it."""
        return tuple(LineNote(n.onset, n.beats, n.pitch.midi) for n in self.written if n.pitch)


def lines_of_lesson(data: dict[str, Any]) -> Iterator[LessonLine]:
    """The teacher's line and every step of every player of a stored lesson."""
    for player in data["players"]:
        for step in exercises(player):
            title, name = str(step["title"]).lower(), str(step["step"])
            yield LessonLine(
                title,
                name,
                str(player["instrument"]),
                read_line(step),
                str(player["level"]),
                ghosts_of(step),
            )


def lines_for(instrument: str | None, lines: Sequence[LessonLine]) -> tuple[LessonLine, ...]:
    """Those of an instrument; all of them where it is None."""
    return tuple(line for line in lines if instrument in {None, line.instrument})


def lines_of_step(
    step: str, lines: Sequence[LessonLine], instrument: str | None
) -> tuple[LessonLine, ...]:
    """Those of one step: several only where players of one instrument have it.

    Raises
    ------
    BriefError
        When there is none, or players of several instruments have it.
    """
    instruments = dict.fromkeys(line.instrument for line in lines)
    if instrument not in {None, *instruments}:
        known = ", ".join(instruments)
        raise BriefError(f"`instrument` {instrument!r} with `step`: the lesson is for {known}")
    lines = lines_for(instrument, lines)
    steps = dict.fromkeys(line.step for line in lines)
    if (name := step_name(step)) not in steps:
        meant = did_you_mean(step, steps)
        raise BriefError(f"`step` {step!r}{meant or ':'} the lesson has {', '.join(steps)}")
    lines = tuple(line for line in lines if line.step == name)
    players = dict.fromkeys(line.instrument for line in lines)
    if len(players) > 1:
        known = ", ".join(players)
        raise BriefError(f"`step` {step!r}: {known} have it; say with `instrument` who plays")
    return lines


def step_name(text: str) -> str:
    """What a step is known by, where the text is its name or its number."""
    try:
        return find_step(text).name
    except BriefError:
        return text
