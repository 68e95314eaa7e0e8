"""How long may a chart be? The limit belongs to the reader of text, and can be passed."""

from __future__ import annotations

from pathlib import Path

import pytest

from halfstep.errors import ReadError
from halfstep.progression.chart import spans
from halfstep.progression.form import MAX_BARS, played
from halfstep.progression.load import load_sheet_file, typed_sheet
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.notations.text_writer import write_sheet_text
from typed_charts import load_chart, read_chart_text

LONG = 8_000
"""Four times what may be typed: a function that called itself for each bar would fail."""


def bars(count: int) -> str:
    """So many bars in lines of four, their chords in turn."""
    chords = ("Dm7", "G7", "Cmaj7", "A7b9")
    line = f"| {' | '.join(chords)} |\n"
    return line * (count // 4) + "".join(f"| {chord} " for chord in chords[: count % 4])


@pytest.mark.slow
def test_what_is_typed_has_a_limit() -> None:
    assert len(read_sheet_text(bars(MAX_BARS)).bars) == MAX_BARS
    for read in (read_sheet_text, typed_sheet, load_chart):
        with pytest.raises(ReadError, match=f"more than {MAX_BARS} bars; make the chart shorter"):
            read(bars(MAX_BARS + 1))


def test_the_limit_holds_for_repeats_too() -> None:
    text = "|: Dm7 | G7 :|x99"
    assert len(read_chart_text(text, limit=198).bars) == 198
    with pytest.raises(ReadError, match="the repeats make more than 197 bars"):
        read_chart_text(text, limit=197)


def test_the_length_of_the_text_is_bounded_by_its_bars() -> None:
    long_title = f"title: {'a' * 1_000_000}\n| C |"
    with pytest.raises(ReadError, match="the text is longer than 1 MB"):
        read_sheet_text(long_title)
    assert len(read_sheet_text(long_title, limit=LONG).title) == 1_000_000


@pytest.mark.slow
def test_a_chart_of_many_bars_can_be_asked_for(tmp_path: Path) -> None:
    sheet = read_sheet_text(bars(LONG), limit=LONG)
    chart = played(sheet, limit=LONG)
    assert len(spans(chart)) == LONG
    assert chart.bars[-1].chords[0].symbol.ascii == "A7b9"
    path = tmp_path / "long.txt"
    path.write_text(write_sheet_text(sheet))
    assert load_sheet_file(path, limit=LONG).bars == sheet.bars
