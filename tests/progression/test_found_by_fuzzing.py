"""Inputs that once crashed a reader or writer, hung it, or left an error without a place.

Each was found by ``bench/fuzz.py`` and made small; the bytes are invented.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from time import process_time

import pytest

from halfstep.errors import ReadError
from halfstep.harmony.tones import chord_tones
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations.abc_reader import read_abc_text
from halfstep.progression.notations.chordpro_reader import read_chordpro_text
from halfstep.progression.notations.harte_reader import read_grid_text, read_lab_text
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.symbol import parse_symbol
from halfstep.services.read_chart import write_chart

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
    sheet = load_sheet_file(path)
    write_chart(sheet, "musicxml")
    assert process_time() - start < LIMIT_S
    assert "a key signature cannot be read; left out" in sheet.notices


def test_a_bar_longer_than_any_metre_is_refused(tmp_path: Path) -> None:
    """A duration of 999999999 quarter notes once filled the memory of the writer."""
    path = tmp_path / "a.musicxml"
    path.write_text(_score(_HARMONY + "<note><rest/><duration>999999999</duration></note>"))
    with pytest.raises(ReadError, match="bar 1 lasts more than 256 quarter notes"):
        load_sheet_file(path)


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
def test_errors_inside_a_text_say_where(
    read: Callable[[str], LeadSheet], text: str, line: int, column: int
) -> None:
    """The line and the column of the bar, word or value that cannot be read."""
    with pytest.raises(ReadError) as caught:
        read(text)
    assert (caught.value.line, caught.value.column) == (line, column)


def test_a_tempo_with_five_thousand_decimals_is_cut(tmp_path: Path) -> None:
    """More digits than Python turns into a number once crashed the reader."""
    path = tmp_path / "a.musicxml"
    tempo = "<metronome><beat-unit>quarter</beat-unit><per-minute>90.{}</per-minute></metronome>"
    sign = f"<direction><direction-type>{tempo.format('5' * 5000)}</direction-type></direction>"
    path.write_text(_score(sign + _HARMONY))
    assert load_sheet_file(path).tempo_bpm == pytest.approx(90.555555)


WRITTEN = {
    "a note of a billionth of a beat": _score(
        "<attributes><divisions>1000</divisions></attributes>"
        "<note><rest/><duration>0.000001</duration></note>" + _HARMONY,
        "<note><rest/><duration>4</duration></note>",
    ),
    "65 eighths in a bar of 16/4": _score(
        "<attributes><divisions>8</divisions><time><beats>16</beats><beat-type>4</beat-type></time>"
        "</attributes><note><rest/><duration>65</duration></note>",
        _HARMONY,
    ),
    "a metre of 32nds": _score(
        "<attributes><time><beats>7</beats><beat-type>32</beat-type></time></attributes>" + _HARMONY
    ),
}


@pytest.mark.parametrize("score", WRITTEN.values(), ids=WRITTEN)
@pytest.mark.parametrize("form", ["text", "musicxml", "abc"])
def test_what_was_written_but_not_read_back_is(score: str, form: str, tmp_path: Path) -> None:
    """The chord comes back from what is written of the sheet."""
    path = tmp_path / "a.musicxml"
    path.write_text(score)
    text = write_chart(load_sheet_file(path), form).text
    path.write_text(text)
    read = {"text": read_sheet_text, "abc": read_abc_text}.get(form)
    back = read(text) if read else load_sheet_file(path)
    assert [str(c.symbol) for bar in back.bars for c in bar.chords] == ["C"]


NOT_READ = [
    ('P:AB\nK:\nP:A\nE\nP:\n"E"E', "the parts that P: names have no chords"),
    ('K:C\n"C"C999999|', "lasts more than 32 quarter notes"),
    ('K:C\n"C"C128|', "lasts more than 32 quarter notes"),
]


@pytest.mark.parametrize(("tune", "said"), NOT_READ)
def test_tunes_that_hung_or_crashed_a_writer_are_refused(tune: str, said: str) -> None:
    """A sheet without chords, and notes that fill hundreds of bars."""
    with pytest.raises(ReadError, match=said):
        read_abc_text(tune)


LATE_CHORDS = {
    'K:C\n:A"""C"': [("4", "1/2")],
    'M:4/4\nL:1/4\nK:C\n"F"A4|A2 "C"|]': [("4", "0"), ("4", "2")],
    'M:4/4\nL:1/4\nK:C\nA "C"|A4|]': [("4", "0")],
}


@pytest.mark.parametrize(("tune", "expected"), LATE_CHORDS.items())
def test_a_chord_after_the_last_note_lies_inside_a_bar(
    tune: str, expected: list[tuple[str, str]]
) -> None:
    """It fills its bar up, or after an upbeat begins the next; it was lost in writing."""
    sheet = read_abc_text(tune)
    found = [(str(bar.beats), str(c.at)) for bar in sheet.bars for c in bar.chords]
    assert found == expected
    text = write_chart(sheet, "abc").text
    assert [b.chords for b in read_abc_text(text).bars] == [b.chords for b in sheet.bars]


SEVENTHS = ["Dm(b7)", "Dmb7", "D(b7)", "Dm(-7)", "D6(b7)", "Dsus4(b7)", "D+(b7)", "Dø(b7)"]


@pytest.mark.parametrize("text", SEVENTHS)
def test_a_flat_seventh_is_a_minor_seventh(text: str) -> None:
    """It was read as a diminished one. Common practice, no source."""
    assert "C" in [str(tone.name) for tone in chord_tones(parse_symbol(text))]


@pytest.mark.parametrize("text", [*SEVENTHS, "Em+3+3"])
def test_symbols_that_printed_as_others_read_back(text: str) -> None:
    """Printing and reading again is the same chord."""
    symbol = parse_symbol(text)
    assert parse_symbol(symbol.ascii) == symbol


TITLES = ["#title:|\n|E:maj|", "#title: | A\n|E:maj|"]


@pytest.mark.parametrize("grid", TITLES)
def test_a_title_that_begins_with_a_bar_line_is_written_without(grid: str) -> None:
    """Plain text would take it for bars; the loss is named."""
    written = write_chart(read_grid_text(grid), "text")
    text, losses = written.text, written.losses
    assert [str(c.symbol) for bar in read_sheet_text(text).bars for c in bar.chords] == ["E"]
    assert any("title" in loss for loss in losses)


@pytest.mark.parametrize("sign", ["1--", "1-", "1--1"])
def test_an_ending_with_a_stray_dash_is_read_by_its_numbers(sign: str) -> None:
    """It was a fault of the program."""
    one, other = (
        read_abc_text(f'X:1\nL:1/4\nK:C\n|:"C"c4|{ending} "G"G4:|2 "C"c4|]')
        for ending in (sign, "1")
    )
    assert one.bars == other.bars


def test_a_tune_without_bars_is_refused_where_its_melody_would_do() -> None:
    with pytest.raises(ReadError, match="the tune has no bars"):
        read_abc_text("X:1\nK:C\n", melody_will_do=True)
