"""Where in the practice room is a piece? An item of a plan, a step of a sheet, what feedback gave.

The address of a place is the base of all that belongs to its piece: how it is drawn, its sounds.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import astuple, dataclass
from datetime import date
from typing import Any

from halfstep.errors import NoSuchThing


@dataclass(frozen=True, slots=True)
class _AddressedPlace:
    """Whatever has one of `_BASES`, whose fields are its own in their order."""

    @property
    def address(self) -> str:
        """Where the room opens on it."""
        values = map(str, astuple(self))
        return _FIELD.sub(lambda _: next(values), _BASES[type(self)])


@dataclass(frozen=True, slots=True)
class PlanPlace(_AddressedPlace):
    """An item of a day's plan, from 1."""

    day: date
    item: int


@dataclass(frozen=True, slots=True)
class SheetPlace(_AddressedPlace):
    """A step of a sheet that was handed out."""

    sheet: int
    step: str


@dataclass(frozen=True, slots=True)
class NextPlace(_AddressedPlace):
    """The etude that feedback on a sent take gave for its so-manieth finding, from 1."""

    take: int
    number: int


RoomPlace = PlanPlace | SheetPlace | NextPlace

_BASES: dict[type, str] = {
    PlanPlace: "/room/days/{day}/items/{item:int}",
    SheetPlace: "/room/sheets/{sheet:int}/{step}",
    NextPlace: "/room/takes/{take:int}/next/{number:int}",
}
"""The addresses of all places, as routes have them."""
BASES = PLAN_BASE, SHEET_BASE, NEXT_BASE = tuple(_BASES.values())
_FIELD = re.compile(r"{(\w+)(?::int)?}")
_VALUES: dict[str, tuple[str, Callable[[str], Any]]] = {
    "day": (r"(\d{4}-\d\d-\d\d)", date.fromisoformat),
    "item": (r"(\d{1,3})", int),
    "sheet": (r"(\d{1,9})", int),
    "step": (r"([a-z-]{1,40})", str),
    "take": (r"(\d{1,9})", int),
    "number": (r"(\d{1,3})", int),
}
"""How the fields are written, and what they say."""
NO_SUCH_PLACE = "there is no such place in the practice room; begin at today's plan"


def place_at(address: str) -> RoomPlace:
    """The place at an address, which may go on behind it.

    >>> place_at("/room/takes/3/next/1/piece")
    NextPlace(take=3, number=1)

    Raises
    ------
    NoSuchThing
    """
    for kind, base in _BASES.items():
        pattern = _FIELD.sub(lambda field: _VALUES[field[1]][0], base)
        if match := re.match(f"{pattern}(?=/|$)", address, re.ASCII):
            fields = zip(_FIELD.finditer(base), match.groups(), strict=True)
            try:
                values = [_VALUES[field[1]][1](text) for field, text in fields]
            except ValueError:  # a day that no calendar has
                break
            place: RoomPlace = kind(*values)
            return place
    raise NoSuchThing(NO_SUCH_PLACE)
