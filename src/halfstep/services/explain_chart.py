"""A chart explained: its keys, each chord's tones and scale, and what changes."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from halfstep.harmony.analysis import analyse
from halfstep.level import Level
from halfstep.part.transposed_part import Part, part_for
from halfstep.services.file_content import FileContent
from halfstep.services.request_fields import (
    ChartSource,
    chart_of,
    level_of,
    player_of,
    reading_notices,
    sheet_of,
)


@dataclass(frozen=True, slots=True)
class ExplainChart:
    """A request to explain a chart.

    Attributes
    ----------
    chart : str, Path or LeadSheet
    instrument : str or None
        Who reads it; None for concert pitch.
    level : str
        ``beginner``, ``intermediate`` or ``advanced``: which scales come first.
    strict_spelling : bool
        Scales and chord tones keep a letter for each degree, with double signs where it
        needs them; without it they are named as they are read at sight.
    reading : str or None
    tune : int or None
    """

    chart: ChartSource
    instrument: str | None = None
    level: str = "intermediate"
    strict_spelling: bool = False
    reading: str | None = None
    tune: int | None = None


@dataclass(frozen=True, slots=True)
class ChangesReply:
    """A chart explained for one player.

    Attributes
    ----------
    part : Part
        The analysis, and how the player reads it.
    level : Level
    notices : tuple of str
        What was not certain.
    """

    part: Part
    level: Level
    notices: tuple[str, ...]

    def data(self, *, notices: tuple[str, ...] = ()) -> dict[str, Any]:
        """The explanation as plain lists and dictionaries; more notices may be added."""
        from halfstep.data.changes_json import changes_data

        return changes_data(self.part, level=self.level, notices=[*self.notices, *notices])

    def map_file(self, suffix: str) -> FileContent:
        """The map of the chart as a file that ends in one of `MAP_SUFFIXES`."""
        from halfstep.lesson.map_page import chart_map
        from halfstep.render.chart_map import chart_map_file

        data, notices = chart_map_file(chart_map(self.part, level=self.level), suffix)
        return FileContent((data,), notices)

    def _repr_svg_(self) -> str:
        from halfstep.services.notebook import inline_svg

        return inline_svg(self.map_file(".svg").data.decode())


MAP_SUFFIXES = (".pdf", ".svg")


def explain_chart(request: ExplainChart) -> ChangesReply:
    """Explain a chart, chord by chord.

    Raises
    ------
    ReadError
        When it cannot be read, or has no chords.
    BriefError
        When there is no such instrument or level.
    """
    level, player = level_of(request.level), player_of(request.instrument)
    sheet = sheet_of(request.chart, reading=request.reading, tune=request.tune)
    chart = chart_of(request.chart, sheet)
    part = replace(part_for(analyse(chart, level=level), player), strict=request.strict_spelling)
    return ChangesReply(part, level, reading_notices(sheet, chart))
