"""Which jobs wait behind which? Who waits to be heard stands behind neither sheets nor homework.

What is heard and what is made are two lanes, and workers may do one of them. In either, what nobody
waits for stands back for some minutes: whoever waits and comes within them goes before it. After
that it counts as much as what comes then, so that it is done however many wait.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import timedelta

from sqlalchemy import ColumnElement, true

from halfstep.errors import BriefError
from halfstep.school.tables import jobs

LISTEN, MAKE = "listen", "make"
LANES: Mapping[str, str] = {
    LISTEN: "hear what students sent",
    MAKE: "make sheets and all else",
}
"""Their names, and what is done in them."""
STANDS_BACK = timedelta(minutes=10)
"""So much later than it was asked for is the turn of what nobody waits for."""
SENT_TAKE = "sent-take"
"""The first word of what a job of hearing belongs to."""


def lane_of(belongs_to: str) -> str:
    """The lane of a job, by what it belongs to."""
    return LISTEN if belongs_to.partition(" ")[0] == SENT_TAKE else MAKE


def in_lane(lane: str) -> ColumnElement[bool]:
    """Asks for the jobs of a lane; of all where it is empty."""
    if not lane:
        return true()
    heard = jobs.c.belongs_to.startswith(f"{SENT_TAKE} ")
    return heard if lane == LISTEN else ~heard


def demand_lane(lane: str) -> str:
    """A lane's name, or none.

    Raises
    ------
    BriefError
    """
    if lane and lane not in LANES:
        raise BriefError(f"`queue` {lane!r}: give one of {', '.join(LANES)}, or none for all")
    return lane
