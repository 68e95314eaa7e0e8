"""What do the header lines of our plain text state? ``title: Evening Class``, ``key: F``.

A header line is a word of three letters or more, a colon and a value without a bar line; a
title may hold one.
"""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

from halfstep.errors import ReadError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM, Feel, Meter, parse_meter
from halfstep.progression.title import UNTITLED, plain_title

if TYPE_CHECKING:
    from halfstep.progression.key import Key
    from halfstep.progression.quality import Reading

HEADERS = ("title", "key", "meter", "tempo", "feel", "style", "reading")

_OTHER_NAMES = {
    "name": "title",
    "time": "meter",
    "metre": "meter",
    "signature": "meter",
    "bpm": "tempo",
    "speed": "tempo",
    "groove": "style",
}
"""What people call a header as well; one name is read, so that charts stay alike."""


@cache
def _header_line() -> re.Pattern[str]:
    return re.compile(
        r"""
        \s* (?P<name> (?P<title>title) | [A-Za-z]{3,} )
        \s* : (?! \s*\| )                     # a name before a repeat sign heads nothing
        \s* (?P<value> (?(title) .* | [^|]* ) )
        """,
        re.IGNORECASE | re.VERBOSE,
    )


class TextHeader:
    """What the header lines state.

    Attributes
    ----------
    title : str
    key : Key or None
    meter : Meter
    tempo_bpm : float or None
    feel : Feel or None
    style : str
        As typed, in small letters; which styles there are is known further up.
    reading : Reading
        What was settled before, and what the header settles over it.
    """

    def __init__(self, reading: Reading) -> None:
        self.title = UNTITLED
        self.key: Key | None = None
        self.meter = Meter()
        self.tempo_bpm: float | None = None
        self.feel: Feel | None = None
        self.style = ""
        self.reading = reading

    def take_line(self, line: str, number: int, source: str, *, before_bars: bool) -> bool:
        """Obey a header line; False for a line that is none.

        Raises
        ------
        ReadError
            Also for one that does not stand before the first bar.
        """
        header = _header_line().fullmatch(line) if ":" in line else None
        if not header:
            return False
        name = header["name"].lower()
        known = name in HEADERS and before_bars
        column = header.start("value" if known else "name") + 1
        try:
            if not before_bars:
                raise ReadError("header lines stand before the first bar")
            self._take(name, header["value"].strip())
        except ReadError as error:
            raise ReadError(error.message, source=source, line=number, column=column) from None
        return True

    def _take(self, name: str, value: str) -> None:
        if other := _OTHER_NAMES.get(name):
            raise ReadError(f"header {name!r} is called {other} here; write {other}: {value}")
        if name not in HEADERS:
            raise ReadError(f"header {name!r} is not known; known are {', '.join(HEADERS)}")
        if not value:
            raise ReadError(f"header {name!r} is empty; write a value after the colon")
        getattr(self, f"_take_{name}")(value)

    def _take_title(self, value: str) -> None:
        self.title = plain_title(value)

    def _take_key(self, value: str) -> None:
        from halfstep.progression.key import parse_key

        self.key = parse_key(value)

    def _take_meter(self, value: str) -> None:
        self.meter = parse_meter(value)

    def _take_tempo(self, value: str) -> None:
        self.tempo_bpm = tempo_of(value)

    def _take_feel(self, value: str) -> None:
        try:
            self.feel = Feel(value.lower())
        except ValueError:
            raise ReadError(f"{value!r} is no feel; write swing or straight") from None

    def _take_style(self, value: str) -> None:
        name = "-".join(value.lower().split())
        if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", name):
            raise ReadError(f"{value!r} is no style; write the name of one, such as bossa-nova")
        self.style = name

    def _take_reading(self, value: str) -> None:
        from halfstep.progression.reading import parse_reading

        self.reading = parse_reading(value, self.reading)


def tempo_of(text: str) -> float:
    """A tempo in pulses a minute, ``bpm`` after it or not.

    Raises
    ------
    ReadError
    """
    number = re.fullmatch(r"(\d{1,4}(?:\.\d{1,3})?)(?:\s*bpm)?", text, re.IGNORECASE)
    if not number or not SLOWEST_BPM <= float(number[1]) <= FASTEST_BPM:
        raise ReadError(
            f"{text!r} is no tempo; write pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}"
        )
    return float(number[1])
