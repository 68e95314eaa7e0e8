"""The charts: a list, and each drawn while it is typed, with what happens at its bar lines."""

from __future__ import annotations

import re
import tempfile
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urlencode

from starlette.responses import Response

from halfstep.app.demo import CHART
from halfstep.app.rights import Deed
from halfstep.app.tasks.chart_tasks import (
    CHART_SUFFIXES,
    changed_chart,
    chart_with_scale,
    file_content,
    keep_chart,
    kept_sheet,
    losses_of,
    typed_content,
    typed_sheet_of,
)
from halfstep.app.web.chart_bars import DrawnBar, drawn_bars
from halfstep.app.web.chart_reasons import KeyArea, key_areas, whole_in_words
from halfstep.app.web.line_form import line_choices
from halfstep.app.web.line_words import line_in_words
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.typing_order import TypingOrder
from halfstep.app.web.visit import Visit, stored_upload
from halfstep.errors import BriefError, HalfstepError, ReadError
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM
from halfstep.part.facts import reading_facts
from halfstep.part.lead_sheet import sheet_for
from halfstep.progression.chart_faults import chart_faults, fault_span
from halfstep.progression.form import played
from halfstep.progression.set_scales import SetScale, parse_scales
from halfstep.progression.sheet import LeadSheet
from halfstep.school.kept_charts import (
    KeptChart,
    every_chart,
    find_chart,
    lines_over,
    remove_chart,
)
from halfstep.school.kept_lines import lines_of_chart
from halfstep.services.explain_chart import ExplainChart, explain_chart

READERS = tuple((player.key, player.label) for player in INSTRUMENTS.values())
LEVELS = tuple((str(level), str(level)) for level in Level)
FIELDS = {
    "text": "The chords",
    "file": "The file",
    "instrument": "Written for",
    "level": "Level",
    "scales": "The scale",
    "title": "Title",
}


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
    message = _cut(error.message)
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


def _cut(text: str) -> str:
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
    areas = key_areas(part, changes, scales)
    return ShownChart(
        reading_facts(part, reply.level),
        drawn_bars(written, part, changes),
        areas,
        frozenset(chord.anchor for area in areas for chord in area.chords),
        tuple(whole_in_words(part)),
        reply.notices,
        part.key.minor,
    )


# The list


def show_charts(visit: Visit) -> Response:
    """All charts, and where a new one begins."""
    visit.demand(Deed.KEEP_DESK)
    return _list_page(visit)


def _list_page(
    visit: Visit,
    *,
    fault: FormFault = NO_FAULT,
    faults: tuple[TextFault, ...] = (),
    chart: ShownChart | None = None,
    status: int = 200,
) -> Response:
    with visit.school.reading() as connection:
        entries = every_chart(connection)
    return page(
        visit,
        "charts.html",
        status=status,
        fault=fault,
        faults=faults,
        chart=chart,
        entries=[(entry, glance(entry.beginning)) for entry in entries],
        text="" if visit.is_swap else visit.text("text"),
        demo=CHART,
        suffixes=CHART_SUFFIXES,
    )


def glance(text: str) -> str:
    r"""The first bars of a chart, without what stands over them.

    >>> glance("key: F\n# from a file\n| Dm7 | G7 |\n| Cmaj7 |")
    '| Dm7 | G7 | | Cmaj7 |'
    """
    lines = (line.strip() for line in text.splitlines())
    return " ".join(line for line in lines if not re.match(r"#|[A-Za-z]{3,}\s*:(?!\s*\|)", line))


def draw_new(visit: Visit) -> Response:
    """A chart that is typed and not kept yet, as it is drawn."""
    visit.demand(Deed.KEEP_DESK)
    text = visit.text("text")
    if not text.strip():
        return _list_page(visit)
    try:
        sheet = typed_sheet_of(text)
        chart = shown_chart(sheet, instrument="", level=Level.INTERMEDIATE)
    except ReadError:
        return _list_page(visit, faults=text_faults(text), status=422)
    except BriefError as error:
        return _list_page(visit, fault=form_fault(error, FIELDS))
    return _list_page(visit, chart=chart)


def begin_chart(visit: Visit) -> Response:
    """Keep a new chart, typed or from a file."""
    visit.demand(Deed.KEEP_DESK)
    upload = visit.upload("file")
    try:
        if upload is None:
            content = typed_content(visit.text("text"))
        else:
            with tempfile.TemporaryDirectory() as folder:
                content = file_content(stored_upload(upload, Path(folder)))
    except ReadError as error:
        if upload is None:
            return _list_page(visit, faults=text_faults(visit.text("text")), status=422)
        return _list_page(visit, fault=FormFault("file", _cut(str(error))), status=422)
    return leads_to(f"/charts/{keep_chart(visit.school, content)}")


# One chart


def _kept(visit: Visit) -> KeptChart:
    with visit.school.reading() as connection:
        return find_chart(connection, visit.number("number"))


def show_chart(visit: Visit) -> Response:
    """A chart: what was typed, how it is drawn, and its reasons."""
    visit.demand(Deed.KEEP_DESK)
    return _chart_page(visit, _kept(visit))


def _chart_page(
    visit: Visit,
    kept: KeptChart,
    *,
    fault: FormFault = NO_FAULT,
    faults: tuple[TextFault, ...] = (),
    status: int = 200,
) -> Response:
    instrument = visit.text("instrument") or "concert"
    level = visit.text("level") or str(Level.INTERMEDIATE)
    chart: ShownChart | None = None
    try:
        if not (faults and visit.is_swap):  # what is drawn stays as it is
            chart = shown_chart(
                kept_sheet(kept),
                instrument=instrument,
                level=level,
                scales=parse_scales(kept.scales),
            )
    except HalfstepError as error:
        if not faults:
            fault, status = form_fault(error, FIELDS), 422
    with visit.school.reading() as connection:
        lines = tuple(map(line_in_words, lines_of_chart(connection, kept.number)))
    return page(
        visit,
        "chart.html",
        lines=lines,
        status=status,
        fault=fault,
        faults=faults,
        kept=kept,
        rows=_rows(kept.text),
        losses=losses_of(kept),
        is_minor=chart is not None and chart.is_minor,
        tempi=(SLOWEST_BPM, FASTEST_BPM),
        title=visit.text("title", kept.title) if faults or fault.line else kept.title,
        text=visit.text("text", kept.text) if faults or fault.line else kept.text,
        chart=chart,
        instrument=instrument,
        level=level,
        readers=READERS,
        levels=LEVELS,
        choices=line_choices(),
    )


def _rows(text: str) -> int:
    """How high the field of a text is, in lines."""
    return min(12, max(3, text.count("\n") + 2))


_TYPED = TypingOrder()


def keep_changes(visit: Visit) -> Response:
    """Keep a chart as it is typed now; what cannot be read stays in the page, with its faults."""
    visit.demand(Deed.KEEP_DESK)
    return _kept_as_typed(visit)


def _kept_as_typed(visit: Visit) -> Response:
    number, text = visit.number("number"), visit.text("text")
    try:
        with _TYPED.turn(visit.text("turn")) as is_last:
            kept = (
                changed_chart(visit.school, number, title=visit.text("title"), text=text)
                if is_last
                else _kept(visit)
            )
    except ReadError:
        return _chart_page(visit, _kept(visit), faults=text_faults(text), status=422)
    return _chart_page(visit, kept) if visit.is_swap else _again(visit, number)


def _again(visit: Visit, number: int) -> Response:
    """The page of a chart, for the same reader."""
    reader = {name: visit.text(name) for name in ("instrument", "level") if visit.text(name)}
    return leads_to(f"/charts/{number}" + (f"?{urlencode(reader)}" if reader else ""))


def choose_scale(visit: Visit) -> Response:
    """Set a scale over a chord, or take it back; what was typed meanwhile is kept as well."""
    visit.demand(Deed.KEEP_DESK)
    place, _, scale = visit.text("scale").partition(" ")
    try:
        kept = chart_with_scale(visit.school, visit.number("number"), place, scale)
    except BriefError as error:
        return _chart_page(visit, _kept(visit), fault=form_fault(error, FIELDS), status=422)
    if "text" in visit.form or "title" in visit.form:
        return _kept_as_typed(visit)
    return _chart_page(visit, kept) if visit.is_swap else _again(visit, kept.number)


def copy_as_text(visit: Visit) -> Response:
    """A chart that came as a file once more, as a text that can be changed."""
    visit.demand(Deed.KEEP_DESK)
    kept = _kept(visit)
    content = typed_content(kept.text, kept.title)
    return leads_to(f"/charts/{keep_chart(visit.school, content)}")


def ask_to_remove(visit: Visit) -> Response:
    """What goes with a chart that is removed."""
    visit.demand(Deed.KEEP_DESK)
    kept = _kept(visit)
    with visit.school.reading() as connection:
        count = lines_over(connection, kept.number)
    return page(visit, "chart_removal.html", kept=kept, lines=count)


def do_remove(visit: Visit) -> Response:
    """Remove a chart."""
    visit.demand(Deed.KEEP_DESK)
    with visit.school.writing() as connection:
        remove_chart(connection, visit.number("number"))
    return leads_to("/charts")
