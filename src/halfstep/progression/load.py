"""Is this a file, or a line of chords? What the user gave becomes a lead sheet or a chart.

`load_sheet` gives the page, `load_chart` the chart as played. A text with a bar line or a
line break is music. Otherwise a file of that name is read by its suffix; and what looks
like a file name but is none is said to be missing.

Signs that can be read in two ways are settled, each going over the next, by a line in the
chart, by the caller, and by a file named `BOOK` in the chart's folder, for all of them.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from halfstep.errors import ReadError
from halfstep.progression.chart import Chart
from halfstep.progression.form import played
from halfstep.progression.reading import over, parse_reading, reading_text
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.symbol import DEFAULT, Reading
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
BOOK = "book.reading"
"""The file that settles the readings of all charts in its folder."""


def load_chart(argument: str, *, reading: Reading = DEFAULT, tune: int | None = None) -> Chart:
    """Read a chart file, or the text itself when it is chords, as it is played.

    Parameters are those of `load_sheet`.

    Raises
    ------
    ReadError
        When there is no such file, or what is there cannot be read as a chart.
    """
    source = chart_source(argument)
    try:
        return played(load_sheet(argument, reading=reading, tune=tune))
    except ReadError as error:
        raise error.at(source=source.name if isinstance(source, Path) else "") from None


def load_sheet(argument: str, *, reading: Reading = DEFAULT, tune: int | None = None) -> LeadSheet:
    """Read a lead sheet from a file, or from the text itself when it is chords.

    Parameters
    ----------
    argument : str
        A path, or chords such as ``Dm7 | G7 | Cmaj7``.
    reading : Reading, optional
        What the writer means where two things can be meant.
    tune : int, optional
        The number of a tune, in a file of several; otherwise the first with chords.

    Raises
    ------
    ReadError
        When there is no such file, or what is there cannot be read.
    """
    source = chart_source(argument)
    if isinstance(source, Path):
        return load_sheet_file(source, reading=reading, tune=tune)
    return typed_sheet(source, reading=reading, tune=tune)


def load_sheet_file(
    path: Path,
    *,
    reading: Reading = DEFAULT,
    tune: int | None = None,
    melody_will_do: bool = False,
) -> LeadSheet:
    """Read a file by its suffix; without a title of its own it has the file's name.

    Where the melody will do, MusicXML and ABC may have no chords.

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
    if tune is not None and suffix not in ABC_SUFFIXES:
        raise ReadError(f"{path.name} holds one tune; an ABC file (.abc) may hold several")
    reading, said = _of_book(path, reading)
    sheet = _reader(suffix, tune, melody_will_do=melody_will_do)(path, reading)
    title = sheet.title if sheet.title not in {"", UNTITLED} else plain_title(path.stem)
    return replace(sheet, title=title, notices=(*said, *sheet.notices))


def _of_book(path: Path, reading: Reading) -> tuple[Reading, tuple[str, ...]]:
    """The reading over what the file `BOOK` beside a chart settles, with a notice of it."""
    book = path.parent / BOOK
    if not book.is_file():
        return reading, ()
    try:
        settled = parse_reading(read_text_file(book)[0])
    except ReadError as error:
        raise error.at(source=BOOK) from None
    return over(settled, reading), (f"{BOOK}: {reading_text(settled)}",)


def _reader(
    suffix: str, tune: int | None, *, melody_will_do: bool
) -> Callable[[Path, Reading], LeadSheet]:
    """The reader of files that end so; what is of no notation is text."""
    if suffix in MUSICXML_SUFFIXES:
        from halfstep.progression.musicxml import read_musicxml_sheet

        return lambda path, _: read_musicxml_sheet(path, melody_will_do=melody_will_do)
    if suffix in ABC_SUFFIXES:
        from halfstep.progression.abc_read import read_abc

        return lambda path, reading: read_abc(
            path, reading=reading, tune=tune, melody_will_do=melody_will_do
        )
    if suffix in CHORDPRO_SUFFIXES:
        from halfstep.progression.chordpro import read_chordpro

        return lambda path, reading: read_chordpro(path, reading=reading)
    if suffix in LABEL_SUFFIXES:
        from halfstep.progression.harte import read_lab

        return lambda path, _: read_lab(path)
    return _text


def _text(path: Path, reading: Reading) -> LeadSheet:
    """Our plain text, or a bar grid of labels such as C:maj7."""
    text, notices = read_text_file(path)
    from halfstep.progression.harte import is_grid, read_grid_text

    if is_grid(text):
        sheet = read_grid_text(text, source=path.name)
    else:
        sheet = read_sheet_text(text, source=path.name, reading=reading)
    return replace(sheet, notices=notices + sheet.notices)


def chart_source(argument: str) -> str | Path:
    """The file that is meant, or the argument itself where it is music.

    A text with a bar line or a line break is music, whatever files there are.
    """
    if "|" in argument or "\n" in argument:
        return argument
    path = Path(argument)
    return path if argument.strip() and _exists(path) else argument


def typed_sheet(text: str, *, reading: Reading = DEFAULT, tune: int | None = None) -> LeadSheet:
    """A sheet of chords as typed; what looks like a file name is said to be missing.

    Raises
    ------
    ReadError
    """
    if tune is not None:
        raise ReadError("a tune is chosen in an ABC file of several; this is a line of chords")
    if "|" in text or "\n" in text:
        return read_sheet_text(text, reading=reading)
    missing = ReadError(
        f"no such file: {text}; give a chart file or a line of chords such as {EXAMPLE!r}"
    )
    if Path(text).suffix.lower() in FILE_SUFFIXES:
        raise missing
    try:
        return read_sheet_text(text, reading=reading)
    except ReadError:
        if "/" in text or "\\" in text:
            raise missing from None
        raise


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long for the system is no file
        return False
