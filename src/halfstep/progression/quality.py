"""What is a chord, whatever its root and bass? And what does a book mean by doubtful signs?

Source: common practice, no source; MusicXML 4.0 for the kinds.
"""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING, Literal, NamedTuple

if TYPE_CHECKING:
    from halfstep.pitch import Degree


class Family(StrEnum):
    """The frame of a chord, without its seventh."""

    MAJOR = "major"
    MINOR = "minor"
    DIMINISHED = "diminished"
    HALF_DIMINISHED = "half-diminished"
    AUGMENTED = "augmented"
    SUS4 = "suspended fourth"
    SUS2 = "suspended second"
    POWER = "power"
    SILENT = "no chord"


# a tuple, since its hash is taken for every symbol read
class Reading(NamedTuple):
    """How a book of charts writes what can be read in two ways; None is not settled.

    What is not settled is read in the first of the ways named here, with a notice.

    Attributes
    ----------
    triangle : {"seventh", "triad"}
        ``C△`` is Cmaj7 or C.
    plus_seventh : {"augmented", "major"}
        ``C7+`` is C7♯5 or Cmaj7.
    plus_ninth : {"augmented", "sharp"}
        ``A+9`` is A9♯5 or A7♯9.
    minus_ninth : {"minor", "flat"}
        ``A-9`` is Am9 or A(♭9).
    two : {"add9", "sus2"}
        ``C2`` is Cadd9 or Csus2.
    over : {"added", "stacked"}
        ``C/9`` is Cadd9 or C9; over a seventh or a sixth it is stacked.
    zero : {"half", "whole"}
        ``C0`` is Cm7♭5 or Cdim7.
    seventh_m : {"minor", "major"}
        ``C7m`` is Cm7 or Cmaj7.
    h : {"plain", "german"}
        H is B natural, and B is B natural too or B flat. Not settled, H is no root.
    endings : bool
        ``Cis`` is C♯, ``Es`` E♭, ``As`` A♭ and ``Bes`` B♭; when off, none of them is a root.
    small_is_minor : bool
        ``e7`` is Em7; when off, a small letter is no root.
    """

    triangle: Literal["seventh", "triad"] | None = None
    plus_seventh: Literal["augmented", "major"] | None = None
    plus_ninth: Literal["augmented", "sharp"] | None = None
    minus_ninth: Literal["minor", "flat"] | None = None
    two: Literal["add9", "sus2"] | None = None
    over: Literal["added", "stacked"] | None = None
    zero: Literal["half", "whole"] | None = None
    seventh_m: Literal["minor", "major"] | None = None
    h: Literal["plain", "german"] | None = None
    endings: bool = False
    small_is_minor: bool = False


DEFAULT = Reading()


class ChordQuality(NamedTuple):
    """What a chord is, whatever its root and bass; the fields are those of `ChordSymbol`."""

    family: Family
    seventh: Degree | None
    sixth: bool
    extension: int
    altered: tuple[Degree, ...]
    added: tuple[Degree, ...]
    omitted: tuple[int, ...]
    alt: bool
