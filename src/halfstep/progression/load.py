"""Is this a file, or a line of chords? What the user gave becomes a chart.

A text with a bar line or a line break is music. Otherwise a file of that name is read by
its suffix; and what looks like a file name but is none is said to be missing.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.progression.chart import Chart
from halfstep.progression.text import (
    EXAMPLE,
    MAX_TEXT_BYTES,
    UNTITLED,
    plain_title,
    read_chart_text,
)

MUSICXML_SUFFIXES = {".musicxml", ".xml", ".mxl"}
FILE_SUFFIXES = MUSICXML_SUFFIXES | {".txt", ".cho", ".crd", ".abc", ".mid", ".pdf"}


def load_chart(argument: str) -> Chart:
    """Read a chart file, or the text itself when it is chords.

    Parameters
    ----------
    argument : str
        A path, or chords such as ``Dm7 | G7 | Cmaj7``.

    Raises
    ------
    ReadError
        When there is no such file, or what is there cannot be read as a chart.
    """
    if "|" in argument or "\n" in argument:
        return read_chart_text(argument)
    path = Path(argument)
    if argument.strip() and _exists(path):
        return load_chart_file(path)
    missing = ReadError(
        f"no such file: {argument}; give a chart file or a line of chords such as {EXAMPLE!r}"
    )
    if path.suffix.lower() in FILE_SUFFIXES:
        raise missing
    try:
        return read_chart_text(argument)
    except ReadError:
        if "/" in argument or "\\" in argument:
            raise missing from None
        raise


def load_chart_file(path: Path) -> Chart:
    """Read a chart file by its suffix; without a title of its own it has the file's name.

    Raises
    ------
    ReadError
    """
    if path.is_dir():
        raise ReadError(f"{path} is a folder; give a chart file")
    if path.suffix.lower() in MUSICXML_SUFFIXES:
        from halfstep.progression.musicxml import read_musicxml

        return read_musicxml(path)
    text, notices = _text_of(path)
    chart = read_chart_text(text, source=path.name)
    title = plain_title(path.stem) if chart.title == UNTITLED else chart.title
    return replace(chart, title=title, notices=notices + chart.notices)


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long for the system is no file
        return False


def _text_of(path: Path) -> tuple[str, tuple[str, ...]]:
    """The text of a file, and a notice when it is not UTF-8."""
    try:
        if not path.is_file():
            raise ReadError("this is no plain file; give a chart file", source=path.name)
        with path.open("rb") as file:
            data = file.read(MAX_TEXT_BYTES + 1)
    except OSError as error:
        said = f"the file cannot be read: {error.strerror}"
        raise ReadError(said, source=path.name) from None
    if len(data) > MAX_TEXT_BYTES:
        raise ReadError("the file is larger than 1 MB; a chart is smaller", source=path.name)
    if b"\0" in data and not data.startswith((b"\xff\xfe", b"\xfe\xff")):
        raise ReadError("this is no text; give a chart as text or MusicXML", source=path.name)
    return _decoded(data)


def _decoded(data: bytes) -> tuple[str, tuple[str, ...]]:
    encoding = "utf-16" if data.startswith((b"\xff\xfe", b"\xfe\xff")) else "utf-8-sig"
    try:
        return data.decode(encoding), ()
    except UnicodeDecodeError:
        return data.decode("latin-1"), ("the file is not UTF-8; read as Latin-1",)
