"""Is this a file, or a line of chords? What the user gave becomes a lead sheet.

`chart_source` tells a file from music: a text with a bar line or a line break is music.
`load_sheet_file` reads a file by its suffix, `typed_sheet` what was typed; there, what looks
like a file name but is none is said to be missing.

Signs that can be read in two ways are settled, each going over the next, by a line in the
chart, by the caller, and by a file named `BOOK` in the chart's folder, for all of them.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from halfstep.errors import ReadError
from halfstep.progression.form import MAX_BARS
from halfstep.progression.notations import (
    NOTATIONS,
    PLAIN_TEXT,
    Notation,
    notation_of_suffix,
    notation_of_text,
    notation_words,
)
from halfstep.progression.quality import DEFAULT, Reading

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.progression.sheet import LeadSheet

BOOK = "book.reading"
"""The file that settles the readings of all charts in its folder."""


def load_sheet_file(
    path: Path,
    *,
    reading: Reading = DEFAULT,
    tune: int | None = None,
    melody_will_do: bool = False,
    limit: int = MAX_BARS,
) -> LeadSheet:
    """Read a file by its suffix; without a title of its own it has the file's name.

    Parameters
    ----------
    path : Path
    reading : Reading, optional
        What the writer means where two things can be meant.
    tune : int, optional
        The number of a tune, in a file of several; otherwise the first with chords.
    melody_will_do : bool
        A notation that holds notes may have no chords.
    limit : int
        Bars that our plain text may have.

    Raises
    ------
    ReadError
        When the file cannot be read as a chart.
    """
    from halfstep.progression.chart_file import file_bytes
    from halfstep.progression.title import UNTITLED, plain_title

    if path.is_dir():
        raise ReadError(f"{path} is a folder; give a chart file")
    notation = _readable(path, tune)
    reading, notices = _of_book(path, reading)
    data = file_bytes(path, notation.most_bytes)
    settings = {
        "reading": reading, "tune": tune, "melody_will_do": melody_will_do, "limit": limit
    }  # fmt: skip
    sheet = _read(notation, data, path, settings)
    title = sheet.title if sheet.title not in {"", UNTITLED} else plain_title(path.stem)
    return replace(sheet, title=title, notices=(*notices, *sheet.notices))


def _readable(path: Path, tune: int | None) -> Notation:
    """The notation of a file that holds chords; what is of no notation is text.

    Raises
    ------
    ReadError
        When its notation holds none, or holds one tune where the number of one is given.
    """
    notation = notation_of_suffix(path.suffix) or PLAIN_TEXT
    if notation.read is None:
        raise ReadError(
            f"{path.name} is a {notation.label} file; it holds a line, not chords; give the "
            "chords as text or MusicXML"
        )
    if tune is not None and "tune" not in notation.settings:
        several = notation_words(n for n in NOTATIONS if "tune" in n.settings)
        message = f"{path.name} holds one tune; a file in {several} may hold several"
        raise ReadError(message)
    return notation


def _of_book(path: Path, reading: Reading) -> tuple[Reading, tuple[str, ...]]:
    """The reading over what the file `BOOK` beside a chart settles, with a notice of it."""
    book = path.parent / BOOK
    if not book.is_file():
        return reading, ()
    from halfstep.progression.chart_file import decoded, file_bytes
    from halfstep.progression.reading import over, parse_reading, reading_text

    try:
        settled = parse_reading(decoded(file_bytes(book, PLAIN_TEXT.most_bytes))[0])
    except ReadError as error:
        raise error.at(source=BOOK) from None
    return over(settled, reading), (f"{BOOK}: {reading_text(settled)}",)


def _read(notation: Notation, data: bytes, path: Path, settings: dict[str, Any]) -> LeadSheet:
    """The sheet that a notation writes with these bytes; a text is known by its marks too.

    Raises
    ------
    ReadError
    """
    from halfstep.progression.chart_file import decoded

    content: bytes | str = data
    notices: tuple[str, ...] = ()
    try:
        if not notation.binary:
            content, notices = decoded(data)
            if notation is PLAIN_TEXT:
                notation = notation_of_text(content)
        assert notation.read is not None
        obeyed = {name: settings[name] for name in notation.settings if name in settings}
        sheet: LeadSheet = notation.read(content, source=path.name, **obeyed)
    except ReadError as error:
        raise error.at(source=path.name) from None
    return replace(sheet, notices=notices + sheet.notices)


def chart_source(argument: str) -> str | Path:
    """The file that is meant, or the argument itself where it is music.

    A text with a bar line or a line break is music, whatever files there are.
    """
    if "|" in argument or "\n" in argument:
        return argument
    from pathlib import Path

    path = Path(argument)
    return path if argument.strip() and _exists(path) else argument


def typed_sheet(
    text: str,
    *,
    reading: Reading = DEFAULT,
    tune: int | None = None,
    limit: int = MAX_BARS,
) -> LeadSheet:
    """A sheet of chords as typed; what looks like a file name is said to be missing.

    Raises
    ------
    ReadError
    """
    if tune is not None:
        raise ReadError("a tune is chosen in an ABC file of several; this is a line of chords")
    from halfstep.progression.notations.text_reader import EXAMPLE, read_sheet_text

    if "|" in text or "\n" in text:
        return read_sheet_text(text, reading=reading, limit=limit)
    from pathlib import Path

    missing = ReadError(
        f"no such file: {text}; give a chart file or a line of chords such as {EXAMPLE!r}"
    )
    if notation_of_suffix(Path(text).suffix) or Path(text).suffix.lower() == ".pdf":
        raise missing
    try:
        return read_sheet_text(text, reading=reading, limit=limit)
    except ReadError:
        if "/" in text or "\\" in text:
            raise missing from None
        raise


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except (OSError, ValueError):  # a name too long for the system is no file
        return False
