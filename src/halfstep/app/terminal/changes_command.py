"""``halfstep changes``: a chart explained, as a table, as data, or drawn on a page."""

from __future__ import annotations

import argparse
import json
import sys
from pathlib import Path

from halfstep.app.terminal.changes_table import table_lines
from halfstep.app.terminal.chart_command import asked_reading, asked_tune, typed_in
from halfstep.app.terminal.chart_grid import notices
from halfstep.data.changes_json import changes_data
from halfstep.errors import BriefError
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, find_instrument
from halfstep.level import Level
from halfstep.part.transposed_part import Part, part_for
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet

PICTURES = (".pdf", ".svg")


def explain(asked: argparse.Namespace, *, level: Level) -> None:
    """Do what ``halfstep changes`` was asked for."""
    out = None if asked.out is None else _picture_file(asked.out)
    given = asked.instrument
    player = INSTRUMENTS["concert"] if given is None else find_instrument(given)
    sheet = load_sheet(typed_in(asked.chart), reading=asked_reading(asked), tune=asked_tune(asked))
    chart = played(sheet)
    part = part_for(analyse(chart, level=level), player)
    said = notices(sheet, chart)
    if out:
        said = [*said, *_draw(part, level, out)]
    if asked.json:
        print(
            json.dumps(changes_data(part, level=level, notices=said), ensure_ascii=False, indent=1)
        )
    elif not out:
        print("\n".join(table_lines(part, level=level, notices=said)))
        return
    for notice in said:
        print(f"note: {notice}", file=sys.stderr)


def _picture_file(out: str) -> Path:
    if Path(out).suffix.lower() not in PICTURES:
        raise BriefError(f"--out {out!r}: end the name in {' or '.join(PICTURES)}")
    return Path(out)


def _draw(part: Part, level: Level, out: Path) -> tuple[str, ...]:
    """Write the map of the chart, and return what should be said of it."""
    from halfstep.lesson.map_page import chart_map
    from halfstep.render.chart_map import write_chart_map

    try:
        return write_chart_map(out, chart_map(part, level=level))
    except OSError as error:
        raise BriefError(f"cannot write to {out}: {error.strerror or error}") from error
