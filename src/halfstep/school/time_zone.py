"""In which time zone does a school live? Days begin there at midnight, wherever the machine is.

A process lives in one zone: what is asked for the day of today and the hour of a moment anywhere in
the program then answers as in the school. Names are those of the IANA time zone database.
"""

from __future__ import annotations

import os
import time

from sqlalchemy import Connection

from halfstep.errors import BriefError
from halfstep.school.database import School
from halfstep.school.settings import keep_text, kept_text

TIME_ZONE = "time-zone"


def chosen_zone(connection: Connection) -> str:
    """The name of the school's zone; empty for the machine's own."""
    return kept_text(connection, TIME_ZONE) or ""


def choose_zone(connection: Connection, name: str) -> None:
    """Choose a zone by its name; the machine's own where that is empty.

    Raises
    ------
    BriefError
        When there is no such zone.
    """
    from zoneinfo import available_timezones

    line = name.strip()
    zones = {zone.casefold(): zone for zone in available_timezones()} if line else {"": ""}
    if line.casefold() not in zones:
        raise BriefError(
            f"`time_zone` {line[:60]!r}: there is no such time zone; write it like Europe/Berlin, "
            "or leave it empty for the machine's own"
        )
    keep_text(connection, TIME_ZONE, zones[line.casefold()])


def live_in_zone(school: School) -> None:
    """Have this process live in the school's zone, and what it starts from now on.

    Where the machine's own is chosen anew, that holds from the next start on.
    """
    with school.reading() as connection:
        name = chosen_zone(connection)
    if name and hasattr(time, "tzset"):  # Windows has none: there the machine's own holds
        os.environ["TZ"] = name
        time.tzset()
