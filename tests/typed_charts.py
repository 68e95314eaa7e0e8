"""Charts as a user types them: the name of a file, or chords."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from halfstep.errors import ReadError
from halfstep.progression.chart import Chart
from halfstep.progression.form import MAX_BARS, played
from halfstep.progression.load import chart_source, load_sheet_file, typed_sheet
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.sheet import LeadSheet


def load_sheet(argument: str, **settings: Any) -> LeadSheet:
    """The sheet of a file, or of the chords that the argument is itself."""
    source = chart_source(argument)
    if isinstance(source, Path):
        return load_sheet_file(source, **settings)
    return typed_sheet(source, **settings)


def load_chart(argument: str, **settings: Any) -> Chart:
    """The same as it is played."""
    return played(load_sheet(argument, **settings))


def read_chart_text(text: str, *, source: str = "", limit: int = MAX_BARS) -> Chart:
    """The chart that is typed, as it is played; ``source`` is named in errors."""
    try:
        return played(read_sheet_text(text, source=source, limit=limit), limit=limit)
    except ReadError as error:
        raise error.at(source=source) from None
