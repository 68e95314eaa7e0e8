"""What does one unit of a course teach, over which chords, and what is heard when it is learnt?

A unit is one readable file, ``NAME.toml``; `halfstep.course.unit_file` reads it. Its name is
its identity for good, since evidence is stored under it.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfstep.level import Level


class Facet(StrEnum):
    """What those who grade improvising weigh (Palmer 2016): each unit says what it serves."""

    RHYTHM = "rhythm-and-time"
    HARMONY = "harmony"
    DEVELOPMENT = "development"
    STYLE = "style"
    EXPRESSIVITY = "expressivity"
    CREATIVITY = "creativity"


class Measure(StrEnum):
    """What of a take decides whether a unit is passed, each a figure of its feedback."""

    CHANGES_ON_TIME = "changes-on-time"  # share of the changes that are judged, 0 to 1
    NOTES_RIGHT = "notes-right"  # share of the written notes played as written, 0 to 1
    OLD_NOTES = "old-notes"  # old notes kept, in each chorus
    FORM_SLIPS = "form-slips"  # in the take
    RESTARTS = "restarts"  # in each chorus
    TIME_FAULTS = "time-faults"  # uneven, rushing, dragging, straight, swung, offset in the take
    PHRASE_FAULTS = "phrase-faults"  # long-phrase, no-rest, few-rhythms, narrow-range, repeated
    ECHOED_RIGHT = "echoed-right"  # share of the notes of an echo given back right, 0 to 1
    MOTIF_KEPT = "motif-kept"  # share of the bars that carry the motif on, 0 to 1


SHARES = frozenset(
    {Measure.CHANGES_ON_TIME, Measure.NOTES_RIGHT, Measure.ECHOED_RIGHT, Measure.MOTIF_KEPT}
)
"""The measures that are shares, of which much is good; of the others little is."""
MARKED_STEPS = {Measure.ECHOED_RIGHT: "echo", Measure.MOTIF_KEPT: "motif"}
"""Measures of takes of one step alone: a unit with such a mark has that step."""


@dataclass(frozen=True, slots=True)
class PassMark:
    """What must be heard to pass: a measure, and the least or the most of it.

    Attributes
    ----------
    measure : Measure
    at_least, at_most : float or None
        One of the two.
    """

    measure: Measure
    at_least: float | None = None
    at_most: float | None = None


@dataclass(frozen=True, slots=True)
class Progression:
    """Chords of our own to play over.

    Attributes
    ----------
    title : str
    chart : str
        As text that states its key: C, C minor, or a mode on C; moved to every other key.
    """

    title: str
    chart: str


@dataclass(frozen=True, slots=True, kw_only=True)
class CourseUnit:
    """One unit.

    Attributes
    ----------
    name : str
        Its identity: small letters and hyphens.
    title : str
    goal : str
        One sentence.
    needs : tuple of str
        Names of the units that come before it.
    level : Level
        That its lessons are written for where a student has none.
    is_minor : bool
        The tonic of its progressions is minor.
    progressions : tuple of Progression
        Two to four.
    steps : tuple of str
        Names of the steps that serve it, the easier first; the last is what passes it.
    keys : int
        How many keys are met in it, the easiest of the instrument first: 1 to 12.
    start_bpm, goal_bpm : float
        Pulses a minute.
    style : str
        Of the band: the name of a style.
    facets : tuple of Facet
    marks : tuple of PassMark
        What must be heard to pass.
    advice : str
        What is said when it fails: a sentence or two.
    """

    name: str
    title: str
    goal: str
    needs: tuple[str, ...]
    level: Level
    is_minor: bool
    progressions: tuple[Progression, ...]
    steps: tuple[str, ...]
    keys: int
    start_bpm: float
    goal_bpm: float
    style: str
    facets: tuple[Facet, ...]
    marks: tuple[PassMark, ...]
    advice: str


@dataclass(frozen=True, slots=True)
class Course:
    """Units in the order they are met.

    Attributes
    ----------
    title : str
    units : tuple of CourseUnit
        A unit stands after those it needs.
    """

    title: str
    units: tuple[CourseUnit, ...]

    def unit(self, name: str) -> CourseUnit | None:
        """The unit of that name."""
        return next((unit for unit in self.units if unit.name == name), None)
