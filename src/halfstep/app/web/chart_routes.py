"""The charts: a list, and each drawn while it is typed, with what happens at its bar lines."""

from __future__ import annotations

import re
import tempfile
from functools import lru_cache
from pathlib import Path
from urllib.parse import urlencode

from starlette.responses import Response

from halfstep.app.demo import CHART
from halfstep.app.sent_files import SENT_FILES
from halfstep.app.tasks.chart_tasks import (
    CHART_SUFFIXES,
    changed_chart,
    chart_with_scale,
    keep_chart,
    kept_sheet,
    losses_of,
    names_title,
    typed_content,
    typed_sheet_of,
)
from halfstep.app.web.chart_view import ShownChart, TextFault, cut, shown_chart, text_faults
from halfstep.app.web.line_form import instrument_choices, level_choices, line_choices
from halfstep.app.web.line_words import line_in_words
from halfstep.app.web.page import NO_FAULT, FormFault, form_fault, leads_to, page
from halfstep.app.web.typing_order import TypingOrder
from halfstep.app.web.visit import Visit, stored_upload
from halfstep.errors import BriefError, HalfstepError, ReadError
from halfstep.level import Level
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM
from halfstep.progression.set_scales import parse_scales
from halfstep.school.kept_charts import (
    KeptChart,
    every_chart,
    find_chart,
    lines_over,
    remove_chart,
)
from halfstep.school.kept_lines import lines_of_chart

FIELDS = {
    "text": "The chords",
    "file": "The file",
    "instrument": "Written for",
    "level": "Level",
    "scales": "The scale",
    "title": "Title",
}


# The list


def show_charts(visit: Visit) -> Response:
    """All charts, and where a new one begins."""
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
        reach = visit.reach(connection)
        entries = [one for one in every_chart(connection) if one.number in reach.charts]
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
    upload = visit.upload("file")
    try:
        if upload is None:
            content = typed_content(visit.text("text"))
        else:
            with tempfile.TemporaryDirectory() as folder:
                content = SENT_FILES.chart(stored_upload(upload, Path(folder)))
    except ReadError as error:
        if upload is None:
            return _list_page(visit, faults=text_faults(visit.text("text")), status=422)
        return _list_page(visit, fault=FormFault("file", cut(str(error))), status=422)
    return leads_to(f"/charts/{keep_chart(visit.school, content, of=visit.visitor.teaches_as)}")


# One chart


def _kept(visit: Visit) -> KeptChart:
    with visit.school.reading() as connection:
        return find_chart(connection, visit.number("number"))


def show_chart(visit: Visit) -> Response:
    """A chart: what was typed, how it is drawn, and its reasons."""
    return _chart_page(visit, _kept(visit))


def _chart_page(
    visit: Visit,
    kept: KeptChart,
    *,
    fault: FormFault = NO_FAULT,
    faults: tuple[TextFault, ...] = (),
) -> Response:
    """The page of a chart; where something is at fault, with what was typed."""
    instrument = visit.text("instrument") or "concert"
    level = visit.text("level") or str(Level.INTERMEDIATE)
    chart, trouble = None, NO_FAULT
    if not (faults and visit.is_swap):  # else what is drawn stays as it is
        chart, trouble = _drawn(kept, instrument, level)
    fault = fault if faults or fault.line else trouble
    is_faulty = bool(faults or fault.line)
    with visit.school.reading() as connection:
        lines = tuple(map(line_in_words, lines_of_chart(connection, kept.number)))
    return page(
        visit,
        "chart.html",
        status=422 if is_faulty else 200,
        fault=fault,
        faults=faults,
        kept=kept,
        rows=_rows(kept.text),
        losses=losses_of(kept),
        names_title=names_title(kept.text),
        title=visit.text("title", kept.title) if is_faulty else kept.title,
        text=visit.text("text", kept.text) if is_faulty else kept.text,
        chart=chart,
        instrument=instrument,
        level=level,
        readers=instrument_choices(),
        levels=level_choices(),
        choices=line_choices(),
        tempi=(SLOWEST_BPM, FASTEST_BPM),
        lines=lines,
    )


@lru_cache(maxsize=32)  # a page is looked at more often than its chart is changed
def _drawn(kept: KeptChart, instrument: str, level: str) -> tuple[ShownChart | None, FormFault]:
    """A chart drawn for a reader, or why it cannot be."""
    try:
        sheet, scales = kept_sheet(kept), parse_scales(kept.scales)
        return shown_chart(sheet, instrument=instrument, level=level, scales=scales), NO_FAULT
    except HalfstepError as error:
        return None, form_fault(error, FIELDS)


def _rows(text: str) -> int:
    """How high the field of a text is, in lines."""
    return min(12, max(3, text.count("\n") + 2))


_TYPED = TypingOrder()


def keep_changes(visit: Visit) -> Response:
    """Keep a chart as it is typed now; what cannot be read stays in the page, with its faults."""
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
        return _chart_page(visit, _kept(visit), faults=text_faults(text))
    return _chart_page(visit, kept) if visit.is_swap else _again(visit, number)


def _again(visit: Visit, number: int) -> Response:
    """The page of a chart, for the same reader."""
    reader = {name: visit.text(name) for name in ("instrument", "level") if visit.text(name)}
    return leads_to(f"/charts/{number}" + (f"?{urlencode(reader)}" if reader else ""))


def choose_scale(visit: Visit) -> Response:
    """Set a scale over a chord, or take it back; what was typed meanwhile is kept as well."""
    place, _, scale = visit.text("scale").partition(" ")
    try:
        kept = chart_with_scale(visit.school, visit.number("number"), place, scale)
    except BriefError as error:
        return _chart_page(visit, _kept(visit), fault=form_fault(error, FIELDS))
    if "text" in visit.form or "title" in visit.form:
        return _kept_as_typed(visit)
    return _chart_page(visit, kept) if visit.is_swap else _again(visit, kept.number)


def copy_as_text(visit: Visit) -> Response:
    """A chart that came as a file once more, as a text that can be changed."""
    kept = _kept(visit)
    content = typed_content(kept.text, kept.title)
    return leads_to(f"/charts/{keep_chart(visit.school, content, of=visit.visitor.teaches_as)}")


def ask_to_remove(visit: Visit) -> Response:
    """What goes with a chart that is removed."""
    kept = _kept(visit)
    with visit.school.reading() as connection:
        count = lines_over(connection, kept.number)
    return page(visit, "chart_removal.html", kept=kept, lines=count)


def do_remove(visit: Visit) -> Response:
    """Remove a chart."""
    with visit.school.writing() as connection:
        remove_chart(connection, visit.number("number"))
    return leads_to("/charts")
