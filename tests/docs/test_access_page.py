"""The page on access: its words are those of the program, its way to Braille works."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from halfstep import write_etude
from halfstep.render.print_setting import LARGE, LARGE_STAFF_MM, TINTS, print_setting

PAGE = Path(__file__).parents[2] / "docs" / "access.md"
EIGHTHS = dict(zip("CDEFGAB", "⠙⠑⠋⠛⠓⠊⠚", strict=True))
"""Music Braille Code 2015, from memory: eighth notes."""


def test_every_word_of_a_setting_stands_on_the_page():
    words = re.findall(r"`([^`]+)`", "".join(re.findall(r"^\| `.*?\|", PAGE.read_text(), re.M)))
    assert {LARGE, *TINTS} <= {*words}
    for word in words:
        assert str(print_setting(word)) == word
    assert f"{LARGE_STAFF_MM:g} mm" in PAGE.read_text()


@pytest.mark.slow
def test_a_step_becomes_braille_by_the_script_of_the_page(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
):
    pytest.importorskip("music21")
    etude = write_etude("| Dm7 | G7 | Cmaj7 | C6 |", "scale", level="beginner")
    (tmp_path / "line.musicxml").write_bytes(etude.file(".musicxml").data)
    monkeypatch.chdir(tmp_path)
    (script,) = re.findall(r"```python\n(.*?)```", PAGE.read_text(), re.S)
    exec(script, {})
    cells = capsys.readouterr().out
    eighths = [
        str(note.pitch)[0] for bar in etude.score().bars for note in bar.notes
        if note.pitch and note.beats * 2 == 1
    ]  # fmt: skip
    assert len(eighths) >= 8
    place = 0
    for letter in eighths:
        place = cells.index(EIGHTHS[letter], place) + 1
