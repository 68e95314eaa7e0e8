"""What has a school chosen? Whole numbers within bounds, each in one row of a table."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from sqlalchemy import Connection, delete, insert, select

from halfstep.errors import BriefError, did_you_mean
from halfstep.school.tables import settings


@dataclass(frozen=True, slots=True)
class Setting:
    """Something that a school may choose.

    Attributes
    ----------
    name : str
    title : str
        What a form calls it.
    words : str
        What it means.
    unit : str
    least, most, usual : int
    """

    name: str
    title: str
    words: str
    unit: str
    least: int
    most: int
    usual: int


CONSENT_AGE = Setting(
    "consent-age",
    "Age of consent",
    "from this age on a player decides without a guardian",
    "years",
    13,
    16,
    16,
)
"""16, and no lower than 13 where a country says so: GDPR (EU) 2016/679, article 8(1)."""
RECORDING_DAYS = Setting(
    "recording-days",
    "Days of a recording",
    "from the day on which it was sent",
    "days",
    7,
    730,
    180,
)
LONGER_DAYS = Setting(
    "longer-days",
    "Days of a recording that is kept longer",
    "where that was allowed for the player",
    "days",
    30,
    1826,
    730,
)
FEEDBACK_DAYS = Setting(
    "feedback-days",
    "Days of feedback",
    "what was heard in a take and said of it, from the day on which it was sent",
    "days",
    30,
    1826,
    1096,
)
LEAVER_DAYS = Setting(
    "leaver-days",
    "Days after the last class",
    "then all that is kept goes of a player who is in no class any more",
    "days",
    30,
    1096,
    365,
)
SETTINGS = {
    one.name: one for one in (CONSENT_AGE, RECORDING_DAYS, LONGER_DAYS, FEEDBACK_DAYS, LEAVER_DAYS)
}
"""By name. Bounds of days are our own choice: nothing is kept without end."""


def value_of(connection: Connection, setting: Setting) -> int:
    """What was chosen, or else the usual."""
    text = kept_text(connection, setting.name)
    return setting.usual if text is None else int(text)


def choose(connection: Connection, name: str, text: str) -> None:
    """Choose a value by the name of its setting.

    Raises
    ------
    BriefError
        When there is no such setting, or the value is out of bounds.
    """
    setting = SETTINGS.get(name)
    if setting is None:
        raise BriefError(f"`name` {name!r}: there is no such setting{did_you_mean(name, SETTINGS)}")
    digits = text.strip()
    is_number = digits.isascii() and digits.isdecimal() and len(digits) < 7
    if not is_number or not setting.least <= int(digits) <= setting.most:
        field = name.replace("-", "_")
        raise BriefError(
            f"`{field}` {text.strip()!r}: give {setting.least} to {setting.most} {setting.unit}"
        )
    keep_text(connection, name, digits)


def kept_text(connection: Connection, name: str) -> str | None:
    """What is kept under a name; None for nothing."""
    return connection.scalar(select(settings.c.value).where(settings.c.name == name))


def keep_text(connection: Connection, name: str, text: str) -> None:
    """Keep something under a name, in the place of what stood there."""
    connection.execute(delete(settings).where(settings.c.name == name))
    connection.execute(insert(settings), {"name": name, "value": text})


def kept_time(connection: Connection, name: str) -> datetime:
    """A moment that is kept under a name; the beginning of time for none."""
    text = kept_text(connection, name)
    return datetime.min.replace(tzinfo=UTC) if text is None else datetime.fromisoformat(text)
