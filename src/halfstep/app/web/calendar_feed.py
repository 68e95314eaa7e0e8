"""What is to be played by when, as a calendar that other programs read.

A day is an event without hours, which takes up nobody's time. Lines are folded at 75 octets and
end in CR and LF; an event keeps its name though it is changed.

Sources: RFC 5545 (iCalendar), RFC 7986 (NAME, REFRESH-INTERVAL).
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta

from halfstep.version import VERSION

LONGEST_LINE = 75
"""Octets, without the line's end (RFC 5545, 3.1)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class CalendarDay:
    """Something that is due on a day.

    Attributes
    ----------
    name : str
        By which a calendar knows it again (UID).
    day : date
    title, words : str
    address : str
        Of the page that it stands on.
    changed_at : datetime
    """

    name: str
    day: date
    title: str
    words: str
    address: str
    changed_at: datetime


def calendar_text(title: str, days: Iterable[CalendarDay]) -> str:
    """A calendar of days."""
    lines = [
        "BEGIN:VCALENDAR",
        "VERSION:2.0",
        f"PRODID:-//Halfstep//Halfstep {VERSION}//EN",
        "CALSCALE:GREGORIAN",
        f"NAME:{_escaped(title)}",
        "REFRESH-INTERVAL;VALUE=DURATION:PT6H",
        *(line for day in days for line in _event(day)),
        "END:VCALENDAR",
    ]
    return "".join(f"{_folded(line)}\r\n" for line in lines)


def _event(day: CalendarDay) -> Iterator[str]:
    yield "BEGIN:VEVENT"
    yield f"UID:{_escaped(day.name)}"
    yield f"DTSTAMP:{day.changed_at.astimezone(UTC):%Y%m%dT%H%M%SZ}"
    yield f"DTSTART;VALUE=DATE:{day.day:%Y%m%d}"
    yield f"DTEND;VALUE=DATE:{day.day + timedelta(days=1):%Y%m%d}"
    yield f"SUMMARY:{_escaped(day.title)}"
    if day.words:
        yield f"DESCRIPTION:{_escaped(day.words)}"
    yield f"URL:{day.address}"
    yield "TRANSP:TRANSPARENT"
    yield "END:VEVENT"


def _escaped(text: str) -> str:
    """A text as a value (RFC 5545, 3.3.11), without signs that no calendar may hold."""
    plain = re.sub(r"[^\S \n]|[\x00-\x08\x0e-\x1f\x7f]", " ", text.replace("\r\n", "\n"))
    return re.sub(r"([\\;,])", r"\\\1", plain).replace("\n", "\\n")


def _folded(line: str) -> str:
    """A line in pieces that are short enough, no letter torn."""
    pieces, size = [""], 0
    for letter in line:
        octets = len(letter.encode())
        if size + octets > LONGEST_LINE:
            pieces.append(" ")
            size = 1
        pieces[-1] += letter
        size += octets
    return "\r\n".join(pieces)
