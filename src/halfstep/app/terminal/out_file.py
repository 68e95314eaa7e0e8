"""Where does a command write? What was typed as ``--out``, judged, and its one file written."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from io import TextIOWrapper

from halfstep.errors import BriefError

TYPE_CHECKING = False  # as in typing, which is slow to load

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.services.file_content import FileContent


def out_path(typed: str, suffixes: Sequence[str], *, field: str = "out") -> Path:
    """The file that is to be written.

    Raises
    ------
    BriefError
        If its name ends otherwise, it is a folder, or its folder is not there.
    """
    from pathlib import Path

    path = Path(typed)
    if path.suffix.lower() not in suffixes:
        raise BriefError(f"`{field}` {typed!r}: end the name in one of {', '.join(suffixes)}")
    if path.is_dir():
        raise BriefError(f"`{field}` {typed!r} is a folder; give the name of a file")
    if not path.parent.is_dir():
        raise BriefError(f"cannot write to {typed}: there is no folder {path.parent}")
    return path


def out_folder(typed: str, *, field: str = "folder") -> Path:
    """The folder that files are to be written into.

    Raises
    ------
    BriefError
        If nothing was typed, or it is a file.
    """
    from pathlib import Path

    if not typed.strip():
        raise BriefError(f"`{field}` is empty; give it a value or leave it out")
    path = Path(typed)
    if path.exists() and not path.is_dir():
        raise BriefError(f"{path} is a file; give `{field}` the name of a folder")
    return path


def print_document(text: str) -> None:
    """Print data: into a file or a pipe in UTF-8, which its own form asks for, whatever the
    locale; on a terminal as it can be shown.
    """
    stream = sys.stdout
    if stream.isatty() or not isinstance(stream, TextIOWrapper):
        print(text, end="")
        return
    stream.flush()
    stream.buffer.write(text.encode())
    stream.flush()


def write_content(content: FileContent, out: Path, *, beside_data: bool = False) -> tuple[str, ...]:
    """Write a file, and more pages of it beside it, say where, and return its notices.

    Parameters
    ----------
    content : FileContent
    out : Path
    beside_data : bool
        Standard output holds data, so that standard error is told where.

    Raises
    ------
    BriefError
        When it cannot be written.
    """
    from halfstep.files import write_whole

    count = len(content.pages)
    names = [out, *(out.with_stem(f"{out.stem}-page-{n}") for n in range(2, count + 1))]
    try:
        for name, page in zip(names, content.pages, strict=True):
            write_whole(name, page)
    except OSError as error:
        raise BriefError(f"cannot write to {out}: {error.strerror or error}") from error
    pages = f" and the pages up to {names[-1].name}" if count > 1 else ""
    print(f"written to {out}{pages}", file=sys.stderr if beside_data else sys.stdout)
    return content.notices
