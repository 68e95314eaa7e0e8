"""A chart as its page shows it, drawn and explained for one reader; and the faults of its text."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.app.web.chart_bars import DrawnBar, drawn_bars
from halfstep.app.web.chart_reasons import KeyArea, key_areas, whole_in_words
from halfstep.errors import BriefError, ReadError
from halfstep.part.change_words import told_change
from halfstep.part.facts import reading_facts
from halfstep.part.lead_sheet import sheet_for
from halfstep.progression.chart_faults import chart_faults, fault_span
from halfstep.progression.form import played
from halfstep.progression.set_scales import SetScale
from halfstep.progression.sheet import LeadSheet
from halfstep.services.explain_chart import ExplainChart, explain_chart


@dataclass(frozen=True, slots=True)
class ShownChart:
    """A chart drawn and explained for one reader.

    Attributes
    ----------
    facts : str
    bars : tuple of DrawnBar
    areas : tuple of KeyArea
    anchors : frozenset of str
        The places on the page where a chord is explained.
    whole : tuple of str
        What holds for the whole of it.
    notices : tuple of str
        What was not certain about the reading.
    is_minor : bool
    """

    facts: str
    bars: tuple[DrawnBar, ...]
    areas: tuple[KeyArea, ...]
    anchors: frozenset[str]
    whole: tuple[str, ...]
    notices: tuple[str, ...]
    is_minor: bool


@dataclass(frozen=True, slots=True)
class TextFault:
    """A fault of a typed chart, with the line that it stands in.

    Attributes
    ----------
    message : str
    line, column : int
        From 1; a line of 0 is the text as a whole.
    before, wrong, after : str
        The line, cut around what is at fault.
    """

    message: str
    line: int = 0
    column: int = 0
    before: str = ""
    wrong: str = ""
    after: str = ""


_AROUND = 60
"""Letters of a line that are shown on each side of a fault."""
_LONGEST_MESSAGE = 300
"""Letters; one that quotes an endless word is cut."""
MOST_BARS_SHOWN = 256
"""Bars, as played, that a page draws and explains; the server stays quick."""


def text_faults(text: str) -> tuple[TextFault, ...]:
    """What is wrong in a typed chart, each at its place."""
    lines = text.splitlines()
    return tuple(_text_fault(fault, lines) for fault in chart_faults(text))


def _text_fault(error: ReadError, lines: list[str]) -> TextFault:
    message = cut(error.message)
    if error.line is None or error.line > len(lines):
        return TextFault(message)
    line = lines[error.line - 1]
    start, end = fault_span(line, error.column or 1)
    before, after = line[:start], line[end:]
    return TextFault(
        message,
        error.line,
        start + 1,
        f"…{before[-_AROUND:]}" if len(before) > _AROUND else before,
        line[start : min(end, start + _AROUND)],
        f"{after[:_AROUND]}…" if len(after) > _AROUND else after,
    )


def cut(text: str) -> str:
    """A message, without the end of one that goes on and on."""
    return text if len(text) <= _LONGEST_MESSAGE else f"{text[:_LONGEST_MESSAGE]}…"


def shown_chart(
    sheet: LeadSheet, *, instrument: str, level: str, scales: tuple[SetScale, ...] = ()
) -> ShownChart:
    """A chart as the page shows it.

    Raises
    ------
    ReadError, BriefError
    """
    count = len(played(sheet).form)
    if count > MOST_BARS_SHOWN:
        raise BriefError(
            f"the chart plays {count} bars; the page draws up to {MOST_BARS_SHOWN}, lines and "
            "sheets are made of all"
        )
    reply = explain_chart(ExplainChart(sheet, instrument or None, level))
    part = reply.part
    written, _ = sheet_for(sheet, part.instrument)
    changes = [part.change(chord) for chord in range(len(part.turns))]
    told = [told_change(part, chord) for chord in range(len(part.turns))]
    areas = key_areas(part, changes, scales)
    return ShownChart(
        reading_facts(part, reply.level),
        drawn_bars(written, part, told),
        areas,
        frozenset(chord.anchor for area in areas for chord in area.chords),
        tuple(whole_in_words(part)),
        reply.notices,
        part.key.minor,
    )
