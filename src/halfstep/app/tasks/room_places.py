"""Where in the practice room is a piece? An item of a plan, a step of a sheet, what feedback gave.

The address of a place is the base of all that belongs to its piece: how it is drawn, its sounds.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import date

from halfstep.errors import NoSuchThing

PLAN_BASE = "/room/days/{day}/items/{item:int}"
SHEET_BASE = "/room/sheets/{sheet:int}/{step}"
NEXT_BASE = "/room/takes/{take:int}/next/{next:int}"
BASES = (PLAN_BASE, SHEET_BASE, NEXT_BASE)
"""Of the addresses of all places, as routes have them."""


@dataclass(frozen=True, slots=True)
class PlanPlace:
    """An item of a day's plan, from 1."""

    day: date
    item: int

    @property
    def address(self) -> str:
        """Where the room opens on it."""
        return f"/room/days/{self.day.isoformat()}/items/{self.item}"


@dataclass(frozen=True, slots=True)
class SheetPlace:
    """A step of a sheet that was handed out."""

    sheet: int
    step: str

    @property
    def address(self) -> str:
        """Where the room opens on it."""
        return f"/room/sheets/{self.sheet}/{self.step}"


@dataclass(frozen=True, slots=True)
class NextPlace:
    """The etude that feedback on a sent take gave for its so-manieth finding, from 1."""

    take: int
    number: int

    @property
    def address(self) -> str:
        """Where the room opens on it."""
        return f"/room/takes/{self.take}/next/{self.number}"


RoomPlace = PlanPlace | SheetPlace | NextPlace

NO_SUCH_PLACE = "there is no such place in the practice room; begin at today's plan"
_PLACES: tuple[tuple[str, Callable[[re.Match[str]], RoomPlace]], ...] = (
    (
        r"/room/days/(\d{4}-\d\d-\d\d)/items/(\d{1,3})",
        lambda found: PlanPlace(date.fromisoformat(found[1]), int(found[2])),
    ),
    (r"/room/sheets/(\d{1,9})/([a-z-]{1,40})", lambda found: SheetPlace(int(found[1]), found[2])),
    (
        r"/room/takes/(\d{1,9})/next/(\d{1,3})",
        lambda found: NextPlace(int(found[1]), int(found[2])),
    ),
)


def place_at(address: str) -> RoomPlace:
    """The place at an address, which may go on behind it.

    >>> place_at("/room/takes/3/next/1/piece")
    NextPlace(take=3, number=1)

    Raises
    ------
    NoSuchThing
    """
    for pattern, place in _PLACES:
        if match := re.match(f"{pattern}(?=/|$)", address, re.ASCII):
            try:
                return place(match)
            except ValueError:  # a day that no calendar has
                break
    raise NoSuchThing(NO_SUCH_PLACE)
