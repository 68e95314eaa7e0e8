"""``halfstep chart``: a chart shown, converted, moved to another key or instrument."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterator
from fractions import Fraction
from pathlib import Path
from typing import Any

from halfstep.errors import BriefError
from halfstep.harmony.tones import chord_tones
from halfstep.instruments import INSTRUMENTS, Instrument, find_instrument
from halfstep.lesson.leadsheet import score_of_sheet, sheet_for, sheet_in_key, sheet_key
from halfstep.pitch import UNISON, Interval
from halfstep.progression.chart import Bar, Chart
from halfstep.progression.form import played
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet
from halfstep.progression.sheet import LeadSheet, WrittenBar

FORMS = ("text", "musicxml", "abc", "chordpro", "json")
_DEFAULT_TEMPO_BPM = 120.0


def show_or_convert(asked: argparse.Namespace) -> None:
    """Do what ``halfstep chart`` was asked for."""
    form = (asked.form or "").lower()
    if asked.form and form not in FORMS:
        raise BriefError(f"--as {asked.form!r}: choose from {', '.join(FORMS)}")
    sheet = load_sheet(asked.chart)
    if asked.key is not None:
        sheet = sheet_in_key(sheet, parse_key(asked.key))
    player = find_instrument(asked.instrument) if asked.instrument else None
    interval = UNISON
    if player:
        sheet, interval = sheet_for(sheet, player)
    if not form and not asked.out:
        print("\n".join(grid_lines(sheet)))
        return
    form = form or _form_of(asked.out)
    text, losses = converted(sheet, form, player=player, interval=interval)
    for loss in losses:
        print(f"note: {form} cannot hold {loss}", file=sys.stderr)
    _deliver(text, asked.out)


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
    if not out:
        print(text, end="" if text.endswith("\n") else "\n")
        return
    from halfstep.render.wav import write_whole

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
        from halfstep.render.musicxml import musicxml_text

        tempo_bpm = sheet.tempo_bpm or _DEFAULT_TEMPO_BPM
        score = score_of_sheet(
            sheet, player or INSTRUMENTS["concert"], interval=interval, tempo_bpm=tempo_bpm
        )
        return musicxml_text(score), ()
    write, losses = _writer(form)
    return write(sheet), losses(sheet)


def _writer(
    form: str,
) -> tuple[Callable[[LeadSheet], str], Callable[[LeadSheet], tuple[str, ...]]]:
    if form == "abc":
        from halfstep.progression.abc import abc_losses, write_abc

        return write_abc, abc_losses
    if form == "chordpro":
        from halfstep.progression.chordpro import chordpro_losses, write_chordpro

        return write_chordpro, chordpro_losses
    from halfstep.progression.text import text_losses, write_sheet_text

    return write_sheet_text, text_losses


# As data


def chart_data(sheet: LeadSheet) -> dict[str, Any]:
    """The written bars, the play order and every symbol with its reading."""
    chart = played(sheet)
    key = sheet_key(sheet)
    return {
        "title": sheet.title,
        "key": key.ascii,
        "key_is_stated": sheet.key is not None,
        "meter": str(chart.meter),
        "tempo_bpm": sheet.tempo_bpm,
        "feel": str(sheet.feel) if sheet.feel else None,
        "bars": [_bar_data(bar) for bar in sheet.bars],
        "play_order": [bar.written for bar in chart.bars],
        "symbols": list(_symbols(sheet)),
        "notices": list(chart.notices),
    }


def _bar_data(bar: WrittenBar) -> dict[str, Any]:
    marks = bar.marks
    return {
        "number": bar.number,
        "section": bar.section or None,
        "meter": str(bar.meter),
        "beats": str(bar.beats or bar.meter.bar_beats),
        "repeat_begins": marks.forward,
        "repeat_ends": marks.backward,
        "ending": list(marks.ending),
        "signs": [
            name
            for name in ("segno", "coda", "to_coda", "fine", "da_capo", "dal_segno")
            if getattr(marks, name)
        ],
    }


def _symbols(sheet: LeadSheet) -> Iterator[dict[str, Any]]:
    """Every symbol in written order; a chord lasts until the next one on the page."""
    placed = [(bar, chord) for bar in sheet.bars for chord in bar.chords]
    starts: dict[int, Fraction] = {}
    beat = Fraction(0)
    for bar in sheet.bars:
        starts[id(bar)] = beat
        beat += bar.beats or bar.meter.bar_beats
    onsets = [starts[id(bar)] + chord.at for bar, chord in placed]
    for (bar, chord), start, end in zip(placed, onsets, [*onsets[1:], beat], strict=True):
        symbol = chord.symbol
        pulse = bar.meter.tempo_beats
        yield {
            "bar": bar.number,
            "beat": str(chord.at / pulse + 1),
            "typed": symbol.typed,
            "printed": str(symbol),
            "root": None if symbol.silent else symbol.root.ascii,
            "tones": [tone.name.ascii for tone in chord_tones(symbol)],
            "degrees": [tone.degree.ascii for tone in chord_tones(symbol)],
            "bass": symbol.bass.ascii if symbol.bass else None,
            "beats": str(end - start),
            "notices": list(symbol.notices),
        }


# On a terminal

_BARS_A_LINE = 4
_LEAST_WIDTH = 12


def grid_lines(sheet: LeadSheet) -> Iterator[str]:
    """The chart as a grid of bars, then its play order and what was not certain."""
    chart = played(sheet)
    key = sheet_key(sheet)
    stated = "" if sheet.key else " (found)"
    facts = [f"{key}{stated}", str(chart.meter)]
    facts += [f"{sheet.tempo_bpm:g} a minute"] if sheet.tempo_bpm else []
    facts += [str(sheet.feel)] if sheet.feel else []
    yield sheet.title
    yield " · ".join(facts)
    cells = [_cell(bar) for bar in sheet.bars]
    width = max(_LEAST_WIDTH, *(len(cell) for cell in cells))
    line: list[int] = []
    for place, bar in enumerate(sheet.bars):
        if line and (bar.section or len(line) == _BARS_A_LINE):
            yield _grid_line(sheet, line, cells, width)
            line = []
        if bar.section:
            yield f"[{bar.section}]"
        line.append(place)
    yield _grid_line(sheet, line, cells, width)
    yield f"played: {_order(chart)}"
    of_symbols = (n for bar in sheet.bars for c in bar.chords for n in c.symbol.notices)
    for notice in dict.fromkeys((*chart.notices, *of_symbols)):
        yield f"note: {notice}"


def _cell(bar: WrittenBar) -> str:
    """What stands in a bar: its marks and chords, each held for its pulses."""
    words = [f"{', '.join(map(str, bar.marks.ending))}."] if bar.marks.ending else []
    words += ["segno"] if bar.marks.segno else []
    words += ["coda"] if bar.marks.coda else []
    words += [str(chord.symbol) for chord in bar.chords]
    for flag, said in (("to_coda", "to coda"), ("fine", "fine"), ("da_capo", "D.C."),
                       ("dal_segno", "D.S.")):  # fmt: skip
        words += [said] if getattr(bar.marks, flag) else []
    return "  ".join(words)


def _grid_line(sheet: LeadSheet, line: list[int], cells: list[str], width: int) -> str:
    text = f"{sheet.bars[line[0]].number:>4} "
    for place in line:
        marks = sheet.bars[place].marks
        text += "|: " if marks.forward else "| "
        text += f"{cells[place]:{width}}"
        if marks.backward:
            text += " :" if marks.backward == 2 else f" :x{marks.backward} "
    return text + "|"


def _order(chart: Chart) -> str:
    """The written numbers as played, runs joined: 1-8, 1-6, 9-10."""
    runs: list[list[Bar]] = []
    for bar in chart.bars:
        if runs and runs[-1][-1].written + 1 == bar.written:
            runs[-1].append(bar)
        else:
            runs.append([bar])
    said = (
        str(run[0].written) if len(run) == 1 else f"{run[0].written}-{run[-1].written}"
        for run in runs
    )
    return f"{', '.join(said)} ({len(chart.form)} bars)"
