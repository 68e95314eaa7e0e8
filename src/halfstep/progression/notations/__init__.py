"""Which notations are read and written? One table, `NOTATIONS`; all that names one derives from it.

A notation is a module that reads it, perhaps one that writes it, and one line here. Files
are told apart by the ends of their names, and texts of no known end by what stands in them;
help, messages and the choices of a form follow the table.

Conventions
-----------
- A reader takes the text of a file (bytes where the notation is ``binary``), ``source``, a
  name for errors, and the settings that its line lists; it returns a `LeadSheet` or raises
  `ReadError`. A writer takes a `LeadSheet` and returns text; its losses say in words what
  that text cannot hold.
- Readers and writers are loaded when they are first called: to name a notation costs nothing.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from functools import partial
from importlib import import_module
from typing import Any, NamedTuple

MOST_TEXT_BYTES = 1_000_000
"""As long as a text of chords may be, in a file or typed."""


class Notation(NamedTuple):
    """One notation.

    Attributes
    ----------
    name : str
        What a form is chosen by: ``chordpro``.
    label : str
        What it is called in a sentence: ``ChordPro``.
    suffixes : tuple of str
        How its files end, in small letters, the usual end first.
    read : callable or None
        ``read(text, *, source, **settings) -> LeadSheet``; None where it holds no chords.
    settings : tuple of str
        What a reader lets its caller settle: ``reading``, ``tune``, ``melody_will_do``,
        ``limit``.
    write : callable or None
        ``write(sheet) -> str``; None where nothing in this package writes it.
    losses : callable or None
        ``losses(sheet) -> tuple of str``, of what ``write`` cannot hold.
    marks : callable or None
        ``marks(text) -> bool``: true for a text that is told by what stands in it.
    has_melody : bool
        A file may hold a line of notes.
    binary : bool
        The reader takes bytes.
    most_bytes : int
        As large as a file may be.
    """

    name: str
    label: str
    suffixes: tuple[str, ...] = ()
    read: Callable[..., Any] | None = None
    settings: tuple[str, ...] = ()
    write: Callable[..., str] | None = None
    losses: Callable[..., tuple[str, ...]] | None = None
    marks: Callable[[str], bool] | None = None
    has_melody: bool = False
    binary: bool = False
    most_bytes: int = MOST_TEXT_BYTES


def on_use(place: str) -> Callable[..., Any]:
    """A function of a module of this package, which is loaded at the first call.

    Parameters
    ----------
    place : str
        Such as ``abc_reader.read_abc_text``.
    """
    return partial(_call, *place.split("."))


def _call(module: str, function: str, *arguments: Any, **settings: Any) -> Any:
    return getattr(import_module(f"{__name__}.{module}"), function)(*arguments, **settings)


NOTATIONS = (
    Notation(
        "text", "our plain text", (".txt",),
        read=on_use("text_reader.read_sheet_text"), settings=("reading", "limit"),
        write=on_use("text_writer.write_sheet_text"), losses=on_use("text_writer.text_losses"),
    ),
    Notation(
        "musicxml", "MusicXML", (".musicxml", ".xml", ".mxl"),
        read=on_use("musicxml_reader.read_musicxml"), settings=("melody_will_do",),
        has_melody=True, binary=True, most_bytes=20_000_000,
    ),
    Notation(
        "abc", "ABC", (".abc",),
        read=on_use("abc_reader.read_abc_text"), settings=("reading", "tune", "melody_will_do"),
        write=on_use("abc_writer.write_abc"), losses=on_use("abc_writer.abc_losses"),
        has_melody=True,
    ),
    Notation(
        "chordpro", "ChordPro", (".cho", ".chordpro", ".crd", ".pro"),
        read=on_use("chordpro_reader.read_chordpro_text"), settings=("reading",),
        write=on_use("chordpro_writer.write_chordpro"),
        losses=on_use("chordpro_writer.chordpro_losses"),
    ),
    Notation("harte", "Harte labels", (".lab",), read=on_use("harte_reader.read_lab_text")),
    Notation(
        "harte-grid", "a bar grid of Harte labels",
        read=on_use("harte_reader.read_grid_text"), marks=on_use("harte_reader.is_grid"),
    ),
    Notation(
        "midi", "MIDI", (".mid", ".midi"), has_melody=True, binary=True, most_bytes=5_000_000
    ),
)  # fmt: skip
"""All notations, plain text first: what is of no other is read as text.

The writer of MusicXML wants a staff and stands below this package.
"""

PLAIN_TEXT = NOTATIONS[0]


def notation_of_suffix(suffix: str) -> Notation | None:
    """The notation of files that end so, in whatever letters; None for an unknown end."""
    return next((n for n in NOTATIONS if suffix.lower() in n.suffixes), None)


def notation_of_text(text: str) -> Notation:
    """The notation of a text without a known end: one it is marked as, or plain text.

    >>> notation_of_text("| C:maj7 | A:min |").name, notation_of_text("| Cmaj7 | Am |").name
    ('harte-grid', 'text')
    """
    return next((n for n in NOTATIONS if n.marks and n.marks(text)), PLAIN_TEXT)


def notation_words(notations: Iterable[Notation]) -> str:
    """The notations that have files, with their ends, as a sentence lists them.

    >>> notation_words(NOTATIONS[-3:])
    'Harte labels (.lab) or MIDI (.mid, .midi)'
    """
    *others, last = [
        f"{notation.label} ({', '.join(notation.suffixes)})"
        for notation in notations
        if notation.suffixes
    ]
    return f"{', '.join(others)} or {last}" if others else last
