"""Output that lacks a sign: chords are printed as they are typed, and no mark stands for one."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given

from halfstep.app.terminal.plain_signs import accept_any_text
from halfstep.progression.symbol import ChordSymbol, parse_symbol
from strategies import symbols

CHART = "| Bb7 | F#m7b5 B7 | Ebdim7 | Abmaj7 |"
SOURCE = Path(__file__).resolve().parents[2] / "src"


def printed(text: str, encoding: str) -> str:
    """What a stream of that encoding prints."""
    stream = io.TextIOWrapper(io.BytesIO(), encoding=encoding)
    accept_any_text(stream)
    stream.write(text)
    stream.flush()
    data = stream.buffer.getvalue()  # type: ignore[attr-defined]
    return str(data.decode(encoding))


@pytest.mark.parametrize(
    ("text", "ascii_text"),
    [
        ("B♭7 F♯ Bø7 B°7", "Bb7 F# Bm7b5 Bdim7"),
        ("Bø Bø9 B♭°", "Bm7b5 Bm9b5 Bbdim"),
        ("B𝄫 C𝄪", "Bbb C##"),
        ("E♭ → D · bars 1–4 …", "Eb -> D - bars 1-4 ..."),
        ("Locrian ♮2", "Locrian natural 2"),
        ("“alt” isn’t 3 × −2", '"alt" isn\'t 3 x -2'),
        ("Café Ångström", "Cafe Angstrom"),
        ("曲", "\\u66f2"),
    ],
)
def test_a_sign_that_is_lacking_is_printed_as_it_is_typed(text: str, ascii_text: str) -> None:
    assert printed(text, "ascii") == ascii_text


@pytest.mark.parametrize("encoding", ["cp1252", "latin-1"])
def test_what_an_encoding_has_stays(encoding: str) -> None:
    assert printed("B♭°7 Bø7 · é", encoding) == "Bb°7 Bø7 · é"
    assert printed("B♭7", "utf-8") == "B♭7"


@given(symbols())
def test_any_chord_printed_plainly_is_read_as_the_same_chord(symbol: ChordSymbol) -> None:
    again = parse_symbol(printed(str(symbol), "ascii"))
    assert str(again) == str(symbol)


LOCALES = {
    "LANG=C": {"LANG": "C"},
    "LC_ALL=POSIX": {"LC_ALL": "POSIX"},
    "PYTHONIOENCODING=ascii": {"PYTHONIOENCODING": "ascii"},
    "PYTHONIOENCODING=cp1252": {"PYTHONIOENCODING": "cp1252"},
    "PYTHONIOENCODING=cp437:strict": {"PYTHONIOENCODING": "cp437:strict"},
}


def run(*arguments: str, added: dict[str, str]) -> subprocess.CompletedProcess[bytes]:
    of_locale = ("LANG", "LC_", "PYTHONUTF8", "PYTHONIOENCODING")
    kept = {name: text for name, text in os.environ.items() if not name.startswith(of_locale)}
    return subprocess.run(
        [sys.executable, "-m", "halfstep", *arguments],
        capture_output=True, timeout=60, env={**kept, "PYTHONPATH": str(SOURCE), **added},
    )  # fmt: skip


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("added", list(LOCALES.values()), ids=list(LOCALES))
def test_a_chart_is_shown_in_any_locale(added: dict[str, str]) -> None:
    ran = run("chart", CHART, added=added)
    assert (ran.returncode, ran.stderr) == (0, b"")
    assert b"Bb7" in ran.stdout
    assert b"F#" in ran.stdout
    assert b"?" not in ran.stdout
    assert "♭".encode() not in ran.stdout


@pytest.mark.slow
def test_columns_stand_under_each_other_in_plain_signs() -> None:
    shown = run("chart", CHART, added={"PYTHONIOENCODING": "ascii"}).stdout.decode("ascii")
    (line,) = [line for line in shown.splitlines() if "Bb7" in line]
    boxes = line.split("|")[1:-1]
    assert len({len(box) for box in boxes}) == 1
    assert [box.strip() for box in boxes] == ["Bb7", "F#m7b5  B7", "Ebdim7", "Abmaj7"]


@pytest.mark.slow
def test_errors_are_plain_as_well() -> None:
    ran = run("changes", "| C | G7 {scale laut♭} |", added={"LANG": "C"})
    assert ran.returncode == 2
    assert b"laut" in ran.stderr
    assert b"?" not in ran.stderr


def test_data_are_utf_8_whatever_the_locale() -> None:
    ran = run("changes", "| Bb7 | Eb7 |", "--json", added={"LANG": "C"})
    assert "B♭7" in ran.stdout.decode("utf-8")


@pytest.mark.slow
def test_a_locale_that_asks_for_nothing_has_its_signs() -> None:
    assert "B♭7" in run("chart", CHART, added={}).stdout.decode("utf-8")
