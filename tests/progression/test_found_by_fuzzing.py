"""Inputs that once crashed a reader or writer, hung it, or left an error without a place.

Each was found by ``bench/fuzz.py`` and made small; the bytes are invented.
"""

from __future__ import annotations

from pathlib import Path
from time import process_time

import pytest

from halfstep.app.charts import converted
from halfstep.errors import ReadError
from halfstep.progression.chordpro import read_chordpro_text
from halfstep.progression.harte import read_grid_text, read_lab_text
from halfstep.progression.musicxml import read_musicxml_sheet
from halfstep.progression.text import read_sheet_text

LIMIT_S = 2.0
"""As long as an input of 10 kB may take."""

_HARMONY = "<harmony><root><root-step>C</root-step></root><kind>major</kind></harmony>"
_KEY = "<attributes><key><fifths>{}</fifths></key></attributes>"
_E_FLAT = "<attributes><transpose><chromatic>3</chromatic></transpose></attributes>"


def _score(*bars: str) -> str:
    measures = "".join(f'<measure number="{n}">{bar}</measure>' for n, bar in enumerate(bars, 1))
    return f"<score-partwise><part>{measures}</part></score-partwise>"


SLOW_SCORES = {
    "a key signature of 999999999 sharps on a transposed part": (
        _score(_E_FLAT + _KEY.format(999999999) + _HARMONY, _HARMONY)
    ),
    "a key signature of -999999999 on a transposed part": (
        _score(_E_FLAT + _KEY.format(-999999999) + _HARMONY, _HARMONY)
    ),
}


@pytest.mark.parametrize("score", SLOW_SCORES.values(), ids=SLOW_SCORES)
def test_scores_that_hung_are_read_in_time(score: str, tmp_path: Path) -> None:
    """What no page can mean is left out, with a notice, and costs no time."""
    path = tmp_path / "a.musicxml"
    path.write_text(score)
    start = process_time()
    sheet = read_musicxml_sheet(path)
    converted(sheet, "musicxml")
    assert process_time() - start < LIMIT_S
    assert "a key signature cannot be read; left out" in sheet.notices


def test_a_bar_longer_than_any_metre_is_refused(tmp_path: Path) -> None:
    """A duration of 999999999 quarter notes once filled the memory of the writer."""
    path = tmp_path / "a.musicxml"
    path.write_text(_score(_HARMONY + "<note><rest/><duration>999999999</duration></note>"))
    with pytest.raises(ReadError, match="^a.musicxml: bar 1 lasts more than 256 quarter notes"):
        read_musicxml_sheet(path)


PLACES = [
    (read_chordpro_text, "G | %", 1, 5),
    (read_chordpro_text, "{sog}\n| C |  %% |", 2, 8),
    (read_chordpro_text, "{sog}\n| C | " + "C " * 33 + "|", 2, 7),
    (read_chordpro_text, "words [C]\n\n" + "  [C]" * 3000, 3, 3),
    (read_lab_text, "0 1 C:maj\n1 C:maj", 2, 1),
    (read_lab_text, "0 1 C:maj\n3 2 C:maj", 2, 1),
    (read_lab_text, "0 1 C:maj\n1 2 Q", 2, 5),
    (read_grid_text, "# metre: 3", 1, 10),
    (read_grid_text, "# tonic: Q", 1, 10),
    (read_grid_text, "A, | C:maj |  Q |", 1, 15),
    (read_grid_text, "| C:maj |" + " ." * 65 + "|", 1, 11),
]


@pytest.mark.parametrize(("read", "text", "line", "column"), PLACES)
def test_errors_inside_a_text_say_where(read, text: str, line: int, column: int) -> None:  # type: ignore[no-untyped-def]
    """The line and the column of the bar, word or value that cannot be read."""
    with pytest.raises(ReadError) as caught:
        read(text)
    assert (caught.value.line, caught.value.column) == (line, column)


TITLES = ["#title:|\n|E:maj|", "#title: | A\n|E:maj|"]


@pytest.mark.parametrize("grid", TITLES)
def test_a_title_that_begins_with_a_bar_line_is_written_without(grid: str) -> None:
    """Plain text would take it for bars; the loss is named."""
    text, losses = converted(read_grid_text(grid), "text")
    assert [str(c.symbol) for bar in read_sheet_text(text).bars for c in bar.chords] == ["E"]
    assert any("title" in loss for loss in losses)
