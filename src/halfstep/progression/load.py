"""Is this a file, or a line of chords? What the user gave becomes a lead sheet or a chart.

`load_sheet` gives the page, `load_chart` the chart as played. A text with a bar line or a
line break is music. Otherwise a file of that name is read by its suffix; and what looks
like a file name but is none is said to be missing.
"""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.text import (
    EXAMPLE,
    UNTITLED,
    plain_title,
    read_sheet_text,
)
from halfstep.progression.textfile import read_text_file

MUSICXML_SUFFIXES = {".musicxml", ".xml", ".mxl"}
ABC_SUFFIXES = {".abc"}
CHORDPRO_SUFFIXES = {".cho", ".chordpro", ".crd", ".pro"}
LABEL_SUFFIXES = {".lab"}
MIDI_SUFFIXES = {".mid", ".midi"}
FILE_SUFFIXES = {".txt", ".pdf"}.union(
    MUSICXML_SUFFIXES, ABC_SUFFIXES, CHORDPRO_SUFFIXES, LABEL_SUFFIXES, MIDI_SUFFIXES
)


def load_chart(argument: str) -> Chart:
    """Read a chart file, or the text itself when it is chords, as it is played.

    Parameters
    ----------
    argument : str
        A path, or chords such as ``Dm7 | G7 | Cmaj7``.

    Raises
    ------
    ReadError
        When there is no such file, or what is there cannot be read as a chart.
    """
    path = _file_of(argument)
    return load_chart_file(path) if path else played(_typed(argument))


def load_chart_file(path: Path) -> Chart:
    """Read a chart file by its suffix, as it is played.

    Raises
    ------
    ReadError
    """
    sheet = load_sheet_file(path)
    try:
        return played(sheet)
    except ReadError as error:
        raise error.at(source=path.name) from None


def load_sheet(argument: str) -> LeadSheet:
    """Read a lead sheet from a file, or from the text itself when it is chords.

    Parameters
    ----------
    argument : str
        A path, or chords such as ``Dm7 | G7 | Cmaj7``.

    Raises
    ------
    ReadError
        When there is no such file, or what is there cannot be read.
    """
    path = _file_of(argument)
    return load_sheet_file(path) if path else _typed(argument)


def load_sheet_file(path: Path) -> LeadSheet:
    """Read a file by its suffix; without a title of its own it has the file's name.

    Raises
    ------
    ReadError
    """
    if path.is_dir():
        raise ReadError(f"{path} is a folder; give a chart file")
    suffix = path.suffix.lower()
    if suffix in MIDI_SUFFIXES:
        raise ReadError(
            f"{path.name} is a MIDI file; it holds a line, not chords; give the chords as text "
            "or MusicXML"
        )
    sheet = _notated(path, suffix)
    if sheet is not None:
        return sheet if sheet.title else replace(sheet, title=plain_title(path.stem))
    text, notices = read_text_file(path)
    sheet = read_sheet_text(text, source=path.name)
    title = plain_title(path.stem) if sheet.title == UNTITLED else sheet.title
    return replace(sheet, title=title, notices=notices + sheet.notices)


def _notated(path: Path, suffix: str) -> LeadSheet | None:
    """The sheet of a file in an open notation; None where the suffix is of none."""
    if suffix in MUSICXML_SUFFIXES:
        from halfstep.progression.musicxml import read_musicxml_sheet

        return read_musicxml_sheet(path)
    if suffix in ABC_SUFFIXES:
        from halfstep.progression.abc import read_abc

        return read_abc(path)
    if suffix in CHORDPRO_SUFFIXES:
        from halfstep.progression.chordpro import read_chordpro

        return read_chordpro(path)
    if suffix in LABEL_SUFFIXES:
        from halfstep.progression.harte import read_lab

        return read_lab(path)
    return None


def _file_of(argument: str) -> Path | None:
    """The file that is meant; None where the argument is music."""
    if "|" in argument or "\n" in argument:
        return None
    path = Path(argument)
    return path if argument.strip() and _exists(path) else None


def _typed(argument: str) -> LeadSheet:
    """Chords typed; what looks like a file name is said to be missing."""
    if "|" in argument or "\n" in argument:
        return read_sheet_text(argument)
    missing = ReadError(
        f"no such file: {argument}; give a chart file or a line of chords such as {EXAMPLE!r}"
    )
    if Path(argument).suffix.lower() in FILE_SUFFIXES:
        raise missing
    try:
        return read_sheet_text(argument)
    except ReadError:
        if "/" in argument or "\\" in argument:
            raise missing from None
        raise


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long for the system is no file
        return False
