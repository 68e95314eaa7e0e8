"""What text does a file hold? Bounded, decoded, and with a word where it was not UTF-8."""

from __future__ import annotations

from pathlib import Path

from halfstep.errors import ReadError

MAX_FILE_BYTES = 1_000_000
"""As long as a text file of chords may be."""
_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def read_text_file(path: Path) -> tuple[str, tuple[str, ...]]:
    """The text of a file, and a notice when it is not UTF-8.

    Raises
    ------
    ReadError
        When it is no plain file, no text, or longer than `MAX_FILE_BYTES`.
    """
    try:
        if not path.is_file():
            raise ReadError("this is no plain file; give a chart file", source=path.name)
        with path.open("rb") as file:
            data = file.read(MAX_FILE_BYTES + 1)
    except (OSError, ValueError) as error:
        raise ReadError(f"the file cannot be read: {error}", source=path.name) from None
    if len(data) > MAX_FILE_BYTES:
        raise ReadError("the file is larger than 1 MB; a chart is smaller", source=path.name)
    if b"\0" in data and not data.startswith(_UTF16):
        raise ReadError("this is no text; give a chart as text", source=path.name)
    return _decoded(data)


def _decoded(data: bytes) -> tuple[str, tuple[str, ...]]:
    encoding = "utf-16" if data.startswith(_UTF16) else "utf-8-sig"
    try:
        return data.decode(encoding), ()
    except UnicodeDecodeError:
        return data.decode("latin-1"), ("the file is not UTF-8; read as Latin-1",)
