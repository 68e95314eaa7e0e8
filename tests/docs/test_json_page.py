"""Does the page on JSON speak of fields that are there?"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from pkgutil import resolve_name
from typing import Any

import pytest

import halfstep
from halfstep.data.chart_json import chart_data
from halfstep.data.documents import json_text
from halfstep.data.feedback_json import feedback_data
from halfstep.data.take_json import take_data
from halfstep.instruments import INSTRUMENTS
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.part.take_part import WrittenTake
from halfstep.services.looped_etude import looped_etude
from made_feedback import made_feedback

PAGE = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text(encoding="utf-8")
CHART = "[A] |: Gm7 C7 | Fmaj7 D7 :|"


def section(heading: str) -> str:
    """The text below a heading."""
    return PAGE.split(f"\n## {heading}\n")[1].split("\n## ")[0]


def keys(data: object) -> Iterator[str]:
    """Every field named anywhere in a document."""
    if isinstance(data, dict):
        yield from data
        yield from keys(list(data.values()))
    elif isinstance(data, list):
        for item in data:
            yield from keys(item)


def chart() -> Any:
    return chart_data(halfstep.read_chart(CHART).sheet)


def changes() -> Any:
    return halfstep.explain(CHART).data()


def etude() -> Any:
    whole = halfstep.write_etude(CHART, "one-line")
    return json.loads(looped_etude(whole, (1, 2)).file(".json").data)


def take() -> Any:
    note = HeardNote(0.0, 0.5, 60, 2.0, -12.0, 0.9, 60.02)
    heard = HeardTake((note,), length_s=1.0, tuning_cents=0.0, delay_s=None, leak_db=None)
    return take_data(WrittenTake(heard, INSTRUMENTS["concert"], "a take", 0.0))


def feedback() -> Any:
    judged, written = made_feedback()
    return feedback_data(judged, written, ["tempo 120, from the chart"])


@pytest.mark.parametrize(
    ("heading", "data"),
    [
        ("A chart", chart),
        ("The changes", changes),
        ("An etude", etude),
        ("A take", take),
        ("What is said of a take", feedback),
    ],
)
def test_every_field_the_page_names_is_in_the_data(heading: str, data: Any) -> None:
    named = set(re.findall(r"`([a-z]+(?:_[a-z]+)*)`", section(heading)))
    assert len(named) > 4
    assert named - {"players"} <= set(keys(data()))


@pytest.mark.parametrize(
    ("heading", "data"),
    [("A chart", chart), ("A take", take), ("What is said of a take", feedback)],
)
def test_what_is_read_back_has_its_reader_on_the_page(heading: str, data: Any) -> None:
    (reader,) = re.findall(r"`(halfstep\.[\w.]+)`", section(heading))
    read = resolve_name(reader)(json_text(data()))
    assert type(read).__name__ in {"LeadSheet", "HeardTake", "StoredFeedback"}


def test_a_chart_is_read_again_as_the_page_says(tmp_path: Path) -> None:
    stored = tmp_path / "chart.json"
    stored.write_text(json_text(chart()), encoding="utf-8")
    assert halfstep.read_chart(stored).sheet.bars == halfstep.read_chart(CHART).sheet.bars
