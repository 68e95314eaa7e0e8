"""Where does a command write its one file? What was typed as ``--out``, judged."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from halfstep.errors import BriefError


def out_path(given: str, suffixes: Sequence[str]) -> Path:
    """The file that is to be written.

    Raises
    ------
    BriefError
        If its name ends otherwise, it is a folder, or its folder is not there.
    """
    path = Path(given)
    if path.suffix.lower() not in suffixes:
        raise BriefError(f"--out {given!r}: end the name in one of {', '.join(suffixes)}")
    if path.is_dir():
        raise BriefError(f"--out {given!r} is a folder; give the name of a file")
    if not path.parent.is_dir():
        raise BriefError(f"cannot write to {given}: there is no folder {path.parent}")
    return path
