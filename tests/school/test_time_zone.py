"""Does a school live in its own time zone, wherever the machine is?"""

from __future__ import annotations

import os
import time
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from school_of_two import school_of_two

from halfstep.app.tasks.setting_tasks import choose_settings
from halfstep.app.web.page import date_words, day_words
from halfstep.errors import BriefError
from halfstep.school.time_zone import TIME_ZONE, chosen_zone

pytestmark = pytest.mark.skipif(not hasattr(time, "tzset"), reason="Windows has its own zone alone")
NIGHT = datetime(2026, 3, 2, 23, 30, tzinfo=UTC)


@pytest.fixture(autouse=True)
def _own_zone() -> Iterator[None]:
    before = os.environ.get("TZ")
    yield
    os.environ.pop("TZ", None)
    if before is not None:
        os.environ["TZ"] = before
    time.tzset()


@pytest.mark.parametrize(
    ("typed", "name", "day"),
    [
        ("Pacific/Auckland", "Pacific/Auckland", "Tue 3 March"),
        ("america/lima", "America/Lima", "Mon 2 March"),
    ],
)
def test_days_are_those_of_the_school(tmp_path: Path, typed: str, name: str, day: str) -> None:
    with school_of_two(tmp_path) as school:
        choose_settings(school, {TIME_ZONE: typed})
        with school.reading() as connection:
            assert chosen_zone(connection) == name
    assert day_words(NIGHT) == day
    assert date_words(NIGHT).startswith(day[4:])
    assert day_words(date(2026, 3, 2)) == "Mon 2 March", "a day is the same everywhere"
    assert datetime.now().astimezone().tzname() == time.localtime().tm_zone


@pytest.mark.parametrize("name", ["Europe", "../../etc/passwd", "EST5EDT,M3.2.0", "Berlin"])
def test_what_is_no_zone_is_one_line(tmp_path: Path, name: str) -> None:
    with school_of_two(tmp_path) as school:
        with pytest.raises(BriefError, match="there is no such time zone; write it like"):
            choose_settings(school, {TIME_ZONE: name})
        choose_settings(school, {TIME_ZONE: ""})
        with school.reading() as connection:
            assert chosen_zone(connection) == ""
