"""In which language are a school's pages? By its tag; each reader's own where none is chosen."""

from __future__ import annotations

import re

from sqlalchemy import Connection

from halfstep.errors import BriefError
from halfstep.school.settings import keep_text, kept_text

LANGUAGE = "language"
_TAG = re.compile(r"[A-Za-z]{2,3}(-[A-Za-z0-9]{2,8}){0,3}", re.ASCII)


def chosen_language(connection: Connection) -> str:
    """The tag of the language of all pages; empty for that of each reader's browser."""
    return kept_text(connection, LANGUAGE) or ""


def choose_language(connection: Connection, tag: str) -> None:
    """Choose a language by its tag (BCP 47); each reader's own where that is empty.

    Raises
    ------
    BriefError
        When it is no such tag.
    """
    line = tag.strip()
    if line and not _TAG.fullmatch(line):
        raise BriefError(
            f"`language` {line[:60]!r}: give the tag of a language, such as en or pt-BR, or leave "
            "it empty for that of each reader's browser"
        )
    keep_text(connection, LANGUAGE, line)
