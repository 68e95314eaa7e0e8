"""How long does a lead sheet of 400 bars with its melody take to read, in four notations?

Run ``python bench/sheet.py``. One invented sheet, two chords and eight eighths a bar, is
written as MusicXML, ABC, ChordPro and plain text (the last two hold no melody) and read
back, our caches cleared before each run; the median of the runs counts. The same bytes of
MusicXML are parsed by the standard library's ElementTree, which does no more than build the
tree: what we take beyond it is ours. music21 (BSD) reads the same file, once.
"""

from __future__ import annotations

import tempfile
import warnings
from collections.abc import Callable
from fractions import Fraction
from pathlib import Path
from statistics import median
from time import perf_counter
from xml.etree import ElementTree

from halfstep import pitch
from halfstep.meter import Meter
from halfstep.pitch import Pitch, name_at
from halfstep.progression import kinds, symbol
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import parse_key
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations import musicxml_reader
from halfstep.progression.sheet import LeadSheet, SheetNote, WrittenBar
from halfstep.progression.symbol import parse_symbol
from halfstep.services.read_chart import write_chart

BARS = 400
RUNS = 15
SUFFIXES = ("", "m7", "7", "maj7", "m7b5", "7b9", "13", "m6")
FORMS = {"musicxml": "musicxml", "abc": "abc", "chordpro": "cho", "text": "txt"}


def bar(number: int) -> WrittenBar:
    """Two chords and eight eighths that differ from bar to bar."""
    chords = tuple(
        ChordAt(
            parse_symbol(name_at((5 * number + 7 * half) % 12 - 5).ascii + suffix),
            Fraction(2 * half),
        )
        for half, suffix in enumerate((SUFFIXES[number % 8], SUFFIXES[number // 3 % 8]))
    )
    eighth = Fraction(1, 2)
    notes = tuple(
        SheetNote(n * eighth, eighth, Pitch(name_at((number + 2 * n) % 7 - 1), 4 + n % 2))
        for n in range(8)
    )
    section = chr(ord("A") + number // 8 % 26) if number % 8 == 0 else ""
    return WrittenBar(str(number + 1), Meter(), Fraction(4), chords, section=section, notes=notes)


def clear() -> None:
    """Empty every cache of ours that a reader fills."""
    for module in (pitch, symbol, kinds, musicxml_reader):
        for made in vars(module).values():
            if hasattr(made, "cache_clear"):
                made.cache_clear()


def taken_ms(work: Callable[[], object], *, runs: int = RUNS) -> float:
    """Milliseconds, the median of runs with cold caches."""
    return median(_run_ms(work) for _ in range(runs))


def _run_ms(work: Callable[[], object]) -> float:
    clear()
    start = perf_counter()
    work()
    return 1000 * (perf_counter() - start)


def music21_ms(path: Path) -> float:
    """One reading by music21, after it has been imported."""
    from music21 import converter

    return _run_ms(lambda: converter.parse(path, forceSource=True))


def main(folder: Path) -> None:
    """Print the times and what they are beside."""
    page = tuple(bar(number) for number in range(BARS))
    sheet = LeadSheet("Evening Class", page, parse_key("C"), 120.0)
    paths = {form: folder / f"sheet.{suffix}" for form, suffix in FORMS.items()}
    for form, path in paths.items():
        path.write_text(write_chart(sheet, form).text, encoding="utf-8")
    data = paths["musicxml"].read_bytes()
    parsed = taken_ms(lambda: ElementTree.fromstring(data))
    print(f"{BARS} bars, {2 * BARS} chords, {8 * BARS} notes; {len(data):,} bytes of MusicXML")
    print(f"ElementTree {parsed:8.1f} ms to parse them")
    for form, path in paths.items():
        ours = taken_ms(lambda path=path: load_sheet_file(path))  # type: ignore[misc]
        beyond = f", {ours - parsed:.1f} beyond parsing" if form == "musicxml" else ""
        print(f"{form:11} {ours:8.1f} ms, {ours / parsed:.1f} times that parse{beyond}")
    theirs = music21_ms(paths["musicxml"])
    ours = taken_ms(lambda: load_sheet_file(paths["musicxml"]), runs=3)
    print(
        f"music21     {theirs:8.1f} ms, halfstep reads MusicXML {theirs / ours:.0f} times as fast"
    )


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    with tempfile.TemporaryDirectory() as made:
        main(Path(made))
