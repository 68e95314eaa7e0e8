"""A chart moved to another key, there and back; relative keys share a place."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.part.transposition import moved_to
from halfstep.progression.chart import Chart, spans
from halfstep.progression.key import Key, key_of, parse_key
from halfstep.progression.quality import ChordQuality
from halfstep.progression.symbol import ChordSymbol
from strategies import charts, keys
from typed_charts import read_chart_text

MINOR = "key: Dm\n| Dm7 | Em7b5 A7b9 | Dm6 |"


def sound(symbol: ChordSymbol) -> tuple[int, int, ChordQuality]:
    bass = symbol.bass or symbol.root
    return symbol.root.pitch_class, bass.pitch_class, symbol.quality


def symbols(chart: Chart) -> list[str]:
    return [span.symbol.ascii for span in spans(chart)]


@pytest.mark.slow
@given(charts(), keys(), keys())
def test_there_and_back_sounds_as_it_was(chart: Chart, own: Key, other: Key) -> None:
    """Not every spelling comes back: what was hard to read is not."""
    start = moved_to(chart, own)
    there = moved_to(start, other)
    back = moved_to(there, own)
    assert [sound(span.symbol) for span in spans(back)] == [
        sound(span.symbol) for span in spans(start)
    ]
    assert back.key == start.key
    assert there.key is not None
    assert there.key.fifths == other.fifths


@pytest.mark.slow
@given(charts(), keys())
def test_moving_to_its_own_key_changes_nothing_but_to_state_it(chart: Chart, key: Key) -> None:
    stated = moved_to(chart, key)
    assert stated.key is not None
    assert moved_to(stated, stated.key) == stated


@pytest.mark.slow
@given(charts(), keys())
def test_every_chord_moves_by_the_same_interval(chart: Chart, key: Key) -> None:
    moved = moved_to(chart, key)
    pairs = [
        (old.symbol, new.symbol)
        for before, after in zip(chart.bars, moved.bars, strict=True)
        for old, new in zip(before.chords, after.chords, strict=True)
    ]
    assert len({(new.root.pitch_class - old.root.pitch_class) % 12 for old, new in pairs}) == 1
    assert [new.family for _, new in pairs] == [old.family for old, _ in pairs]


@given(st.integers(-7, 7))
def test_a_relative_key_puts_a_chart_in_the_same_place(fifths: int) -> None:
    chart = read_chart_text(MINOR)
    major, minor = key_of(fifths), key_of(fifths, minor=True)
    assert moved_to(chart, major) == moved_to(chart, minor)
    assert moved_to(chart, major).key == minor


@pytest.mark.parametrize(
    ("key", "expected"),
    [
        ("Am", ["Am7", "Bm7b5", "E7b9", "Am6"]),
        ("C", ["Am7", "Bm7b5", "E7b9", "Am6"]),
        ("Gm", ["Gm7", "Am7b5", "D7b9", "Gm6"]),
        ("D#m", ["D#m7", "E#m7b5", "A#7b9", "D#m6"]),
        ("Ebm", ["Ebm7", "Fm7b5", "Bb7b9", "Ebm6"]),
    ],
)
def test_a_minor_chart_moves_with_its_spelling(key: str, expected: list[str]) -> None:
    assert symbols(moved_to(read_chart_text(MINOR), parse_key(key))) == expected


def test_a_chart_without_a_key_is_moved_from_the_one_that_is_found() -> None:
    moved = moved_to(read_chart_text("| Dm7 | G7 | Cmaj7 | Cmaj7 |"), parse_key("Eb"))
    assert moved.key == parse_key("Eb")
    assert symbols(moved) == ["Fm7", "Bb7", "Ebmaj7"]


def test_bass_notes_move_with_their_chords() -> None:
    """Case 50 of the same collection: root and bass move by the same interval."""
    moved = moved_to(read_chart_text("key: C#\n| C#7/E# |"), parse_key("B"))
    assert symbols(moved) == ["B7/D#"]
