"""Charts that other people typed: do all read, and do we mean the same chords?

The charts of 342 transcribed solos, and the authors' own word for the type of each of
their 410 symbols (Weimar Jazz Database, ODbL: a seventh is j7, minor is ``-``, and an
accidental follows its degree, so ``79b`` is our 7b9). Their spelling is translated here and
nowhere else. The files are read where they lie and never copied.
"""

from __future__ import annotations

import csv
import re
from collections import Counter
from pathlib import Path

import pytest

from halfstep.harmony.tones import chord_degrees
from halfstep.progression.symbol import parse_symbol
from halfstep.progression.text import read_chart_text

DATA = Path(__file__).resolve().parents[3] / "shared" / "data" / "wjd-derived"
pytestmark = pytest.mark.skipif(not DATA.is_dir(), reason="the tables of solos are not here")

CHORD = re.compile(r"NC|(?P<root>[A-G][b#]?)(?P<suffix>[^A-GN/|\s]*)(?P<bass>/[A-G][b#]?)?")
SUFFIX = re.compile(r"(?P<frame>-|o|\+|sus)?(?P<major>j)?(?P<degrees>(?:(?:13|11|9|7|6)[b#]?)*)")
FRAMES = {None: "", "-": "m", "o": "dim", "+": "+", "sus": ""}
SECTION = re.compile(r"^[A-Z]'?\d+:", re.MULTILINE)

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


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def translated(found: re.Match[str]) -> str:
    """One of the authors' chords as we write it."""
    if found[0] == "NC":
        return "N.C."
    return found["root"] + translated_suffix(found["suffix"]) + (found["bass"] or "")


def translated_suffix(suffix: str) -> str:
    if suffix in {"7alt", "m7b5"}:
        return suffix
    parts = SUFFIX.fullmatch(suffix)
    assert parts, suffix
    degrees = re.findall(r"(13|11|9|7|6)([b#]?)", parts["degrees"])
    natural = [int(number) for number, sign in degrees if not sign]
    stacked = max(natural) if 9 in natural and 6 not in natural else min(natural, default=0)
    number = f"{stacked or ''}" + ("/9" if {6, 9} <= set(natural) else "")
    added = [n for n in natural if 9 not in natural and n > 7]
    return "".join((
        FRAMES[parts["frame"]],
        "maj" if parts["major"] else "",
        number,
        "sus4" if parts["frame"] == "sus" else "",
        *(sign + number for number, sign in degrees if sign),
        *(f"add{number}" for number in added),
    ))  # fmt: skip


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


def test_every_chart_reads_with_all_its_bars_and_chords() -> None:
    charts = rows("wjd_chord_charts.csv")
    assert len(charts) == 342
    for row in charts:
        bars = bars_of(row["chord_changes"])
        text = "| " + " | ".join(" ".join(translated(c) for c in bar) for bar in bars) + " |"
        chart = read_chart_text(f"meter: {row['signature'] or '4/4'}\n{text}", source=row["id"])
        assert len(chart.bars) == len(bars), row["id"]
        read = [placed.symbol for bar in chart.bars for placed in bar.chords]
        assert [str(symbol) for symbol in read] == [
            str(parse_symbol(translated(chord))) for bar in bars for chord in bar
        ], row["id"]


def bars_of(changes: str) -> list[list[re.Match[str]]]:
    """The chords of each bar; the names of sections are left out."""
    bars = []
    for line in changes.splitlines():
        inside = SECTION.sub("", line).strip().strip("|")
        assert not CHORD.sub("", inside).replace("|", "").strip(), line
        bars += [list(CHORD.finditer(bar)) for bar in inside.split("|")]
    return bars


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
