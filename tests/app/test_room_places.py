"""Places of the practice room and their addresses."""

from __future__ import annotations

from datetime import date

import pytest

from halfstep.app.tasks.room_places import (
    NextPlace,
    PlanPlace,
    RoomPlace,
    SheetPlace,
    place_at,
)
from halfstep.errors import NoSuchThing


@pytest.mark.parametrize(
    ("place", "address"),
    [
        (PlanPlace(date(2031, 3, 5), 2), "/room/days/2031-03-05/items/2"),
        (SheetPlace(14, "one-line"), "/room/sheets/14/one-line"),
        (NextPlace(3, 1), "/room/takes/3/next/1"),
    ],
)
def test_a_place_is_at_its_address_and_below_it(place: RoomPlace, address: str) -> None:
    assert place.address == address
    assert place_at(address) == place_at(f"{address}/sound/drums") == place


@pytest.mark.parametrize(
    "address",
    ["/room/days/2031-02-30/items/1", "/room/sheets/3", "/room/takes/٣/next/1", "/room/takes/3"],
)
def test_elsewhere_is_no_place(address: str) -> None:
    with pytest.raises(NoSuchThing, match="no such place"):
        place_at(address)
