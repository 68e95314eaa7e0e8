"""A school chooses: all of what was sent, or nothing of it."""

from __future__ import annotations

from collections.abc import Mapping

from halfstep.school.audit import Audited, write_down
from halfstep.school.chosen_language import LANGUAGE, choose_language
from halfstep.school.database import School
from halfstep.school.settings import choose, kept_text
from halfstep.school.time_zone import TIME_ZONE, choose_zone, live_in_zone


def choose_settings(school: School, chosen: Mapping[str, str], *, by: int | None = None) -> None:
    """Keep what was chosen, and write down what is other than before; days are those of its zone.

    Parameters
    ----------
    chosen : mapping of str to str
        By the names of settings.
    by : int or None
        The number of the account of who chooses.

    Raises
    ------
    BriefError
        When there is no such setting, or a value is out of bounds; then nothing is changed.
    """
    with school.writing() as connection:
        for name, text in chosen.items():
            before = kept_text(connection, name)
            if name == TIME_ZONE:
                choose_zone(connection, text)
            elif name == LANGUAGE:
                choose_language(connection, text)
            else:
                choose(connection, name, text)
            after = kept_text(connection, name)
            if after != before:
                write_down(connection, Audited.CHOSE, by=by, detail=f"{name} {after}")
    if TIME_ZONE in chosen:
        live_in_zone(school)
