"""``halfstep chart``: a chart shown, converted, moved to another key or instrument."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path

from halfstep.app.terminal.chart_grid import grid_lines
from halfstep.data.chart_json import chart_data
from halfstep.errors import BriefError, ReadError
from halfstep.instruments import INSTRUMENTS, Instrument, find_instrument
from halfstep.part.lead_sheet import musicxml_losses, practical, score_of_sheet, sheet_for
from halfstep.part.transposition import in_key
from halfstep.pitch import UNISON, Interval
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet
from halfstep.progression.notations import MOST_TEXT_BYTES
from halfstep.progression.reading import parse_reading
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.symbol import Reading

FORMS = ("text", "musicxml", "abc", "chordpro", "json")


def show_or_convert(asked: argparse.Namespace) -> None:
    """Do what ``halfstep chart`` was asked for."""
    form = _form(asked)
    sheet = load_sheet(typed_in(asked.chart), reading=asked_reading(asked), tune=asked_tune(asked))
    if asked.key is not None:
        sheet = practical(in_key(sheet, parse_key(asked.key)))
    player = None if asked.instrument is None else find_instrument(asked.instrument)
    interval = UNISON
    if player:
        sheet, interval = sheet_for(sheet, player)
    if not form:
        print("\n".join(grid_lines(sheet)))
        return
    text, losses = converted(sheet, form, player=player, interval=interval)
    for loss in losses:
        print(f"note: {form} cannot hold {loss}", file=sys.stderr)
    _deliver(text, asked.out)


def _form(asked: argparse.Namespace) -> str:
    """The form that is asked for, by name or by the end of a file's; empty for the grid."""
    if asked.form is None:
        return "" if asked.out is None else _form_of(asked.out)
    form: str = asked.form.lower()
    if form not in FORMS:
        raise BriefError(f"--as {asked.form!r}: choose from {', '.join(FORMS)}")
    return form


def typed_in(chart: str) -> str:
    """The chart that is asked for; ``-`` reads it from standard input."""
    return sys.stdin.read(MOST_TEXT_BYTES + 1) if chart == "-" else chart


def asked_reading(asked: argparse.Namespace) -> Reading:
    """What ``--reading`` settles.

    Raises
    ------
    ReadError
    """
    try:
        return parse_reading(asked.reading or "")
    except ReadError as error:
        raise BriefError(f"--reading: {error.message}") from None


def asked_tune(asked: argparse.Namespace) -> int | None:
    """The number that ``--tune`` gives.

    Raises
    ------
    BriefError
    """
    if asked.tune is None:
        return None
    if not (asked.tune.isascii() and asked.tune.isdecimal() and len(asked.tune) < 9):
        raise BriefError(f"--tune {asked.tune!r}: give the number of a tune in the file")
    return int(asked.tune)


def _form_of(out: str) -> str:
    """The form a file name asks for."""
    by_suffix = {".txt": "text", ".musicxml": "musicxml", ".xml": "musicxml", ".abc": "abc",
                 ".cho": "chordpro", ".chordpro": "chordpro", ".json": "json"}  # fmt: skip
    suffix = Path(out).suffix.lower()
    if suffix not in by_suffix:
        known = ", ".join(by_suffix)
        raise BriefError(f"--out {out!r}: say --as, or end the name in one of {known}")
    return by_suffix[suffix]


def _deliver(text: str, out: str | None) -> None:
    if out is None:
        print(text, end="" if text.endswith("\n") else "\n")
        return
    from halfstep.files import write_whole

    try:
        write_whole(out, text.encode())
    except OSError as error:
        raise BriefError(f"cannot write to {out}: {error.strerror or error}") from error


def converted(
    sheet: LeadSheet, form: str, *, player: Instrument | None = None, interval: Interval = UNISON
) -> tuple[str, tuple[str, ...]]:
    """A sheet in one of `FORMS`, and what that form cannot hold of it.

    Parameters
    ----------
    sheet : LeadSheet
        In written pitch.
    form : str
    player : Instrument, optional
    interval : Interval
        From concert up to the sheet's written pitch.
    """
    if form == "json":
        return json.dumps(chart_data(sheet), ensure_ascii=False, indent=1) + "\n", ()
    if form == "musicxml":
        from halfstep.render.musicxml_writer import musicxml_text

        score = score_of_sheet(sheet, player or INSTRUMENTS["concert"], interval=interval)
        return musicxml_text(score), musicxml_losses(sheet)
    write, losses = _writer(form)
    return write(sheet), losses(sheet)


def _writer(
    form: str,
) -> tuple[Callable[[LeadSheet], str], Callable[[LeadSheet], tuple[str, ...]]]:
    if form == "abc":
        from halfstep.progression.notations.abc_writer import abc_losses, write_abc

        return write_abc, abc_losses
    if form == "chordpro":
        from halfstep.progression.notations.chordpro_writer import chordpro_losses, write_chordpro

        return write_chordpro, chordpro_losses
    from halfstep.progression.notations.text_writer import text_losses, write_sheet_text

    return write_sheet_text, text_losses
