"""How do replies show themselves in a notebook? As plain HTML without scripts."""

from __future__ import annotations

from base64 import b64encode
from collections.abc import Iterable, Sequence
from html import escape

from halfstep.data.outline_json import MEANING
from halfstep.feedback.judge import Feedback
from halfstep.harmony.outline import Outline
from halfstep.lesson.take_page import take_facts
from halfstep.part.take_part import WrittenTake
from halfstep.part.written_music import home_key_of
from halfstep.progression.chart import Chart
from halfstep.progression.notations.text_writer import meter_text
from halfstep.progression.sheet import LeadSheet, WrittenBar
from halfstep.render.plan_paper import PaperItem, PaperRest, PlanPaper
from halfstep.services.feedback_words import FINDING_HEAD, digest_lines, finding_rows
from halfstep.services.outline_words import (
    CHANGE_HEAD,
    WINDOW_HEAD,
    change_rows,
    summary,
    window_rows,
)

BARS_A_ROW = 4


def chart_html(sheet: LeadSheet, chart: Chart, notices: Iterable[str]) -> str:
    """A chart as its grid, four bars in a row."""
    bars = [_bar_cell(bar) for bar in sheet.bars]
    rows = (bars[first : first + BARS_A_ROW] for first in range(0, len(bars), BARS_A_ROW))
    facts = f"{home_key_of(sheet)} · {meter_text(chart.meter)} · {len(chart.form)} bars played"
    return (
        f"<table><caption>{escape(sheet.title)} · {escape(facts)}</caption>"
        f"{''.join(f'<tr>{_joined(row)}</tr>' for row in rows)}</table>{notices_html(notices)}"
    )


def _joined(cells: Sequence[str]) -> str:
    return "".join(cells)


def _bar_cell(bar: WrittenBar) -> str:
    """A bar: its number, what begins with it, its chords, and where it goes back."""
    marks = bar.marks
    words = [
        f"<small>{escape(bar.number)}</small>",
        f"<b>{escape(bar.section)}</b>" if bar.section else "",
        "|:" if marks.forward else "",
        "".join(f"{number}." for number in marks.ending),
        *(escape(str(chord.symbol)) for chord in bar.chords),
        ":|" if marks.backward else "",
    ]
    return f'<td style="text-align:left">{" ".join(filter(None, words))}</td>'


def outline_html(outline: Outline, chart: Chart, notices: Iterable[str]) -> str:
    """The figures of a line: the whole, every four bars, every change."""
    sentences = "<br>".join(escape(text) for text in (*summary(outline), MEANING))
    return (
        f"<p>{escape(chart.title)}</p><p>{sentences}</p>"
        f"{_table(WINDOW_HEAD, window_rows(outline, chart))}"
        f"{_table(CHANGE_HEAD, change_rows(outline, chart)) if outline.changes else ''}"
        f"{notices_html(notices)}"
    )


def feedback_html(feedback: Feedback, written: WrittenTake, notices: Iterable[str]) -> str:
    """What is said of a take: its facts, and a row for each finding."""
    facts = " · ".join((written.title, *take_facts(written)))
    rows = list(finding_rows(feedback))
    digest = "".join(f"<p>{escape(text)}</p>" for text in digest_lines(feedback))
    table = _table(FINDING_HEAD, rows) if rows else ""
    return f"<p>{escape(facts)}</p>{digest}{table}{notices_html(notices)}"


def _table(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    lines = (_joined([f"<td>{escape(cell)}</td>" for cell in row]) for row in rows)
    titles = _joined([f"<th>{escape(title)}</th>" for title in head])
    return f"<table><tr>{titles}</tr>{''.join(f'<tr>{line}</tr>' for line in lines)}</table>"


def plan_html(page: PlanPaper) -> str:
    """A day's practice: a row for each thing and each rest."""
    rows = [
        ("", "rest", entry.text, entry.minutes)
        if isinstance(entry, PaperRest)
        else (str(entry.number), entry.role, _item_text(entry), entry.minutes)
        for entry in page.entries
    ]
    facts = " · ".join((page.player, page.heading, page.facts))
    return f"<p>{escape(facts)}</p>{_table(PLAN_HEAD, rows)}"


PLAN_HEAD = ("", "part", "what, and why", "how long")


def _item_text(item: PaperItem) -> str:
    rows = "; ".join(f"{word}: {text}" for word, text in item.rows)
    return f"{item.title} ({item.facts}). {rows}"


def notices_html(notices: Iterable[str]) -> str:
    """What should be said, a line each; nothing where there is nothing."""
    items = "".join(f"<li>{escape(notice)}</li>" for notice in notices)
    return f"<ul>{items}</ul>" if items else ""


def inline_svg(svg: str) -> str:
    """A picture without what stands before its first element, as a page takes it."""
    return svg[svg.index("<svg") :]


def sound_html(m4a: bytes) -> str:
    """A player for a short sound, which travels inside the page."""
    return f'<audio controls src="data:audio/mp4;base64,{b64encode(m4a).decode()}"></audio>'


def files_html(folder: str, names: Iterable[str]) -> str:
    """The files of a folder, a line each."""
    items = "".join(f"<li>{escape(name)}</li>" for name in names)
    return f"<p>The lesson is in {escape(folder)}</p><ul>{items}</ul>"
