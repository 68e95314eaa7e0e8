"""Which signs stand in a line of our plain text? Chords, holds, marks in brackets, bar lines."""

from __future__ import annotations

import re
from collections.abc import Iterator
from functools import cache
from typing import TYPE_CHECKING, NamedTuple

from halfstep.progression.title import one_line

if TYPE_CHECKING:
    from fractions import Fraction

WIDE_LINE = "\N{FULLWIDTH VERTICAL LINE}"
HOLDS = frozenset({".", "/"})
"""What goes on with the chord before for one pulse."""

SIGNS_AT_START = {"segno": "segno", "coda": "coda"}
SIGNS_AT_END = {"to coda": "to_coda", "fine": "fine"}
SIGNS_AT_END |= {f"dc{goal}": "da_capo" for goal in ("", " al fine", " al coda")}
SIGNS_AT_END |= {f"ds{goal}": "dal_segno" for goal in ("", " al fine", " al coda")}
"""Words in braces and their field of `Marks`, by the end of the bar that they count at."""


class TextSign(NamedTuple):
    """A chord, a hold, a mark or a bar line.

    Attributes
    ----------
    text : str
    line : int
        1-based.
    column : int
        0-based.
    kind : str
        ``bar``, ``section``, ``brace`` or ``word``.
    scale : str
        The scale that is set over a chord; empty where none is.
    at : Fraction or None
        Where a chord is said to begin, in quarter notes from the start of its bar.
    """

    text: str
    line: int
    column: int
    kind: str = "word"
    scale: str = ""
    at: Fraction | None = None

    @property
    def inside(self) -> str:
        """What stands between the brackets or braces, blanks joined."""
        return one_line(self.text[1:-1])

    @property
    def order(self) -> str:
        """A word in braces without full stops, in small letters."""
        return self.inside.replace(".", "").lower()

    @property
    def is_ending(self) -> bool:
        """True for the passes of an ending: ``1.`` or ``1.2.``."""
        return self.text[-1:] == "." and bool(_ending().fullmatch(self.text))


@cache
def _sign() -> re.Pattern[str]:
    return re.compile(
        r"""
          (?P<bar>      :? \| [|\]:]* | \[\| )
        | (?P<section>  \[ [^][{}|]+ \] )
        | (?P<brace>    \{ [^{}|]* \} )
        | (?P<word>     (?: \d{1,2}\. ){1,16}                       # an ending
                      | (?: (?! :?\| | \[\| | \{[^{}|]*\} ) \S )+   # up to a bar line or a brace
                        (?: \s+ \( (?![A-GN]) [^()|{}\[\]\n]* \)  # a bracket without a chord
                          | \s+ (?: no | omit | add ) \s? [b\#♭♯]? \d{1,2} (?! \S ) )*
          )
        """,
        re.VERBOSE,
    )


@cache
def _ending() -> re.Pattern[str]:
    return re.compile(r"(?:\d{1,2}\.){1,16}")


@cache
def length_words() -> re.Pattern[str]:
    """``pickup``, ``part`` or ``lasts`` and quarter notes, as a decimal or a fraction."""
    return re.compile(r"(pickup|part|lasts)\s+(\d{1,4}(?:\.\d{1,3}|/[1-9]\d{0,4})?)", re.IGNORECASE)


@cache
def beat_words() -> re.Pattern[str]:
    """``beat`` and a place, counted in quarter notes from 1: ``2.5`` or ``2+1/3``."""
    return re.compile(
        r"beat\s+(?P<whole>[1-9]\d{0,2}(?:\.\d{1,3})?)(?:\s*\+\s*(?P<part>\d{1,5}/[1-9]\d{0,4}))?",
        re.IGNORECASE,
    )


@cache
def number_words() -> re.Pattern[str]:
    """``bar`` and the number that a bar has on its page."""
    return re.compile(r"bar\s+(\S{1,12})", re.IGNORECASE)


def signs_of_line(number: int, line: str) -> Iterator[TextSign]:
    """The signs of a line, in order; ``number`` is that of the line."""
    for sign in _sign().finditer(line):
        yield TextSign(sign[0], number, sign.start(), sign.lastgroup or "word")
