"""Charts that other people typed: do all read, and do we mean the same chords?

The charts of 342 transcribed solos, and the authors' own word for the type of each of
their 410 symbols; `solos` translates their spelling.
"""

from __future__ import annotations

from collections import Counter

import pytest

from halfstep.harmony.tones import chord_degrees
from halfstep.progression.symbol import parse_symbol
from solos import (
    CHORD,
    bars_of,
    chart_of,
    needs_tables,
    rows,
    translated,
    translated_suffix,
)

pytestmark = needs_tables

WORDS = {
    ("3", ""): "maj",
    ("3", "6"): "6",
    ("3", "b7"): "7",
    ("3", "7"): "maj7",
    ("b3", ""): "min",
    ("b3", "6"): "min6",
    ("b3", "b7"): "min7",
    ("b3", "7"): "minmaj7",
}
"""Our third and our sixth or seventh, and the authors' word for a chord that has them."""
FLAT_FIFTH = {"min": "o", "min7": "m7b5"}
NO_WORD = "7"
"""What the authors call suspended and augmented triads, for which they have no word."""


@pytest.mark.parametrize(
    ("theirs", "ours"),
    [
        ("j7", "maj7"),
        ("79b", "7b9"),
        ("7911#", "9#11"),
        ("sus7913", "13sus4"),
        ("-7911", "m11"),
        ("6911#", "6/9#11"),
        ("79#13", "7#9add13"),
        ("+j7", "+maj7"),
        ("o7", "dim7"),
    ],
)
def test_the_translation_is_what_the_authors_mean(theirs: str, ours: str) -> None:
    assert translated_suffix(theirs) == ours


@pytest.mark.slow
def test_every_chart_reads_with_all_its_bars_and_chords() -> None:
    charts = rows("wjd_chord_charts.csv")
    assert len(charts) == 342
    for row in charts:
        bars = bars_of(row["chord_changes"])
        chart = chart_of(row)
        assert len(chart.bars) == len(bars), row["id"]
        read = [placed.symbol for bar in chart.bars for placed in bar.chords]
        assert [str(symbol) for symbol in read] == [
            str(parse_symbol(translated(chord))) for bar in bars for chord in bar
        ], row["id"]


def test_the_authors_type_is_the_word_for_our_degrees() -> None:
    """All 410 agree: 398 by their degrees alone, 12 since the authors have no word for them."""
    symbols = rows("wjd_chord_symbol_to_authors_type.csv")
    differ = [
        row["chord_symbol"]
        for row in symbols
        if authors_word(row["chord_symbol"]) != row["authors_chord_type"]
    ]
    wordless = Counter(
        found["suffix"]
        for row in symbols
        if (found := CHORD.fullmatch(row["chord_symbol"])) and found["suffix"] in {"sus", "+"}
    )
    assert len(symbols) == 410
    assert differ == []
    assert wordless == {"sus": 8, "+": 4}


def authors_word(written: str) -> str:
    """The word for the third, the fifth and the sixth or seventh that we read."""
    found = CHORD.fullmatch(written)
    assert found, written
    symbol = parse_symbol(translated(found))
    if symbol.silent:
        return "NC"
    degrees = {degree.ascii for degree in chord_degrees(symbol)}
    third = "".join(degrees & {"3", "b3"})
    fourth_note = "".join(degrees & {"6", "bb7", "b7", "7"})
    if fourth_note == "bb7":
        return "o7"
    if not fourth_note and (not third or "#5" in degrees):
        return NO_WORD
    word = WORDS[third or "3", fourth_note]  # a suspended seventh goes with the dominants
    return FLAT_FIFTH.get(word, word) if "b5" in degrees else word
