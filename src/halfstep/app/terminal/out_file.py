"""Where does a command write its one file? What was typed as ``--out``, judged and written."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from halfstep.errors import BriefError
from halfstep.files import write_whole
from halfstep.services.file_content import FileContent


def out_path(typed: str, suffixes: Sequence[str]) -> Path:
    """The file that is to be written.

    Raises
    ------
    BriefError
        If its name ends otherwise, it is a folder, or its folder is not there.
    """
    path = Path(typed)
    if path.suffix.lower() not in suffixes:
        raise BriefError(f"`out` {typed!r}: end the name in one of {', '.join(suffixes)}")
    if path.is_dir():
        raise BriefError(f"`out` {typed!r} is a folder; give the name of a file")
    if not path.parent.is_dir():
        raise BriefError(f"cannot write to {typed}: there is no folder {path.parent}")
    return path


def write_content(content: FileContent, out: Path) -> tuple[str, ...]:
    """Write a file, and more pages of it beside it, and return what should be said of it.

    Raises
    ------
    BriefError
        When it cannot be written.
    """
    count = len(content.pages)
    names = [out, *(out.with_stem(f"{out.stem}-page-{n}") for n in range(2, count + 1))]
    try:
        for name, page in zip(names, content.pages, strict=True):
            write_whole(name, page)
    except OSError as error:
        raise BriefError(f"cannot write to {out}: {error.strerror or error}") from error
    if count == 1:
        return content.notices
    return (*content.notices, f"the picture has {count} pages, up to {names[-1].name}")
