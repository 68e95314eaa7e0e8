"""What every JSON form has in common: its name, its version, and how it is written and read."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.errors import ReadError
from halfstep.version import VERSION

MAX_BYTES = 50_000_000
"""The longest document that is read."""


@dataclass(frozen=True, slots=True)
class JsonForm:
    """A form of JSON document.

    Attributes
    ----------
    name : str
        What stands in its field ``format``.
    holds : str
        What it holds, in words.
    version : int
        The one that is written.
    oldest : int
        The oldest version that is read.
    """

    name: str
    holds: str
    version: int = 1
    oldest: int = 1

    @property
    def head(self) -> dict[str, Any]:
        """The fields that every document of the form begins with."""
        program = f"halfstep {VERSION}"
        return {"format": self.name, "version": self.version, "program": program}


def json_text(data: dict[str, Any]) -> str:
    """A document as text, with its last line ended."""
    return json.dumps(data, ensure_ascii=False, indent=1) + "\n"


def read_document(source: str | Path, form: JsonForm) -> dict[str, Any]:
    """The document of that form in a text or a file.

    Raises
    ------
    ReadError
        When it is too long, cannot be read, or is of another form or version.
    """
    data = _parsed(_text(source))
    if not isinstance(data, dict) or data.get("format") != form.name:
        raise ReadError(f"give {form.holds} that Halfstep stored as .json")
    version = data.get("version")
    if not isinstance(version, int) or not form.oldest <= version <= form.version:
        raise ReadError("it is of a version that this program cannot read")
    return data


def _text(source: str | Path) -> str:
    try:
        size = len(source) if isinstance(source, str) else source.stat().st_size
        if size > MAX_BYTES:
            raise ReadError(f"it is longer than {MAX_BYTES // 1_000_000} million characters")
        return source if isinstance(source, str) else source.read_text(encoding="utf-8")
    except OSError as error:
        raise ReadError(f"cannot read it: {error.strerror or error}") from None
    except ValueError:  # not UTF-8, or a name that no system takes
        return ""


def _parsed(text: str) -> object:
    try:
        return json.loads(text)
    except (ValueError, RecursionError):
        return None
