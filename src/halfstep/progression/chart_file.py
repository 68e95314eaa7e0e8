"""What bytes does a file hold, and what text? Bounded, and with a notice where it is not UTF-8."""

from __future__ import annotations

from pathlib import Path

from halfstep.errors import ReadError

_UTF16 = (b"\xff\xfe", b"\xfe\xff")


def file_bytes(path: Path, limit: int) -> bytes:
    """What a file holds.

    Raises
    ------
    ReadError
        When it is no plain file, or holds more than ``limit`` bytes.
    """
    try:
        if not path.is_file():
            raise ReadError("this is no plain file; give a chart file", source=path.name)
        with path.open("rb") as file:
            data = file.read(limit + 1)
    except (OSError, ValueError) as error:
        raise ReadError(f"the file cannot be read: {error}", source=path.name) from None
    if len(data) > limit:
        message = f"the file is larger than {limit // 1_000_000} MB; a chart is smaller"
        raise ReadError(message, source=path.name)
    return data


def decoded(data: bytes) -> tuple[str, tuple[str, ...]]:
    """The text that bytes encode, and a notice when they are not UTF-8.

    Raises
    ------
    ReadError
        When they are no text.
    """
    if b"\0" in data and not data.startswith(_UTF16):
        raise ReadError("this is no text; give a chart as text")
    encoding = "utf-16" if data.startswith(_UTF16) else "utf-8-sig"
    try:
        return data.decode(encoding), ()
    except UnicodeDecodeError:
        return data.decode("latin-1"), ("the file is not UTF-8; read as Latin-1",)
