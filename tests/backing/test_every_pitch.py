"""Every pitch of bass and chords against chords that another program spells.

Reference: music21 10 (BSD), the pitches of `harmony.ChordSymbol` for a root and a kind of
MusicXML. What a symbol alters is added and taken away here in semitones, and what players
leave out of an eleventh and a thirteenth; both are common practice, no source.
"""

from __future__ import annotations

import json
from fractions import Fraction
from functools import cache
from itertools import cycle

import pytest
from invented_charts import chart_of

from halfstep.backing import STYLES, Style, make_backing
from halfstep.harmony.scales import MODES
from halfstep.meter import Meter
from halfstep.played import PlayedPart
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.symbol import ChordSymbol
from keyed_charts import FILE, needs_keyed_charts
from typed_charts import read_chart_text

EIGHTH = Fraction(1, 2)
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B")

# suffix -> kind, semitones over the root more and less than music21 gives
KINDS: dict[str, tuple[str, set[int], set[int]]] = {
    "": ("major", set(), set()),
    "m": ("minor", set(), set()),
    "+": ("augmented", set(), set()),
    "dim": ("diminished", set(), set()),
    "7": ("dominant-seventh", set(), set()),
    "maj7": ("major-seventh", set(), set()),
    "m7": ("minor-seventh", set(), set()),
    "dim7": ("diminished-seventh", set(), set()),
    "7#5": ("augmented-seventh", set(), set()),
    "m7b5": ("half-diminished-seventh", set(), set()),
    "m(maj7)": ("minor-major-seventh", set(), set()),
    "6": ("major-sixth", set(), set()),
    "m6": ("minor-sixth", set(), set()),
    "6/9": ("major-sixth", {2}, set()),
    "9": ("dominant-ninth", set(), set()),
    "maj9": ("major-ninth", set(), set()),
    "m9": ("minor-ninth", set(), set()),
    "11": ("dominant-11th", set(), {4}),
    "m11": ("minor-11th", set(), set()),
    "13": ("dominant-13th", set(), {5}),
    "maj13": ("major-13th", set(), {5}),
    "sus2": ("suspended-second", set(), set()),
    "sus4": ("suspended-fourth", set(), set()),
    "5": ("power", set(), set()),
    "7sus4": ("dominant-seventh", {5}, {4}),
    "9sus4": ("dominant-ninth", {5}, {4}),
    "13sus4": ("dominant-13th", set(), {4}),
    "7b9": ("dominant-seventh", {1}, set()),
    "7#9": ("dominant-seventh", {3}, set()),
    "7#11": ("dominant-seventh", {6}, set()),
    "7b13": ("dominant-seventh", {8}, set()),
    "7b5": ("dominant-seventh", {6}, {7}),
    "13b9": ("dominant-13th", {1}, {2, 5}),
    "maj7#11": ("major-seventh", {6}, set()),
    "maj7#5": ("major-seventh", {8}, {7}),
    "7alt": ("dominant-seventh", {1, 3, 6, 8}, {7}),
    "add9": ("major", {2}, set()),
    "madd9": ("minor", {2}, set()),
}
# what a player may add to a kind, in semitones; common practice, no source
COLOURS = {
    "7": {2, 9}, "9": {9}, "7#11": {2, 9}, "7b5": {2, 9}, "7b13": {2}, "7#5": {2},
    "7b9": {9}, "7#9": {9}, "7sus4": {2, 9}, "9sus4": {9}, "maj7": {2, 9}, "maj9": {9},
    "maj7#11": {2, 9}, "maj7#5": {2, 9}, "m7": {2}, "m(maj7)": {2}, "6": {2}, "m6": {2},
}  # fmt: skip


@cache
def spelled(root: str, suffix: str) -> frozenset[int]:
    """Pitch classes of a chord as music21 has them."""
    harmony = pytest.importorskip("music21.harmony")
    kind, more, less = KINDS[suffix]
    number = ROOTS.index(root)
    chord = harmony.ChordSymbol(root=root.replace("b", "-"), kind=kind)
    over = {(pitch.midi - number) % 12 for pitch in chord.pitches}
    return frozenset((number + step) % 12 for step in (over | more) - less)


def coloured(root: str, suffix: str) -> frozenset[int]:
    """The same with the colours that a player may add."""
    more = {(ROOTS.index(root) + step) % 12 for step in COLOURS.get(suffix, ())}
    return spelled(root, suffix) | more


Named = dict[ChordSymbol, tuple[str, str]]
"""Root and suffix of each symbol, as they were written."""


def named(chart: Chart) -> Named:
    """The names of a chart's chords, those on a bass of their own left out."""
    names: Named = {}
    for span in spans(chart):
        root = next((r for r in ROOTS if span.symbol.typed.startswith(r)), "")
        longest = max((r for r in ROOTS if span.symbol.typed.startswith(r)), key=len, default=root)
        suffix = span.symbol.typed.removeprefix(longest)
        if longest and suffix in KINDS:
            names[span.symbol] = (longest, suffix)
    return names


def at(chart_spans: tuple[Span, ...], onset: Fraction) -> tuple[Span, Span]:
    """The chord at an onset, and the one an eighth later."""
    (span,) = [s for s in chart_spans if s.start <= onset < s.end]
    (later,) = [
        s for s in chart_spans if s.start <= min(onset + EIGHTH, chart_spans[-1].start) < s.end
    ]
    return span, later


def check_chords(chart: Chart, part: PlayedPart, names: Named) -> int:
    """Every stroke is the chord that sounds, or the one that comes; the strokes checked."""
    checked = 0
    chart_spans = spans(chart)
    for onset in {note.onset for note in part.notes}:
        midi = {note.midi % 12 for note in part.notes if note.onset == onset}
        around = at(chart_spans, onset)
        if all(span.symbol in names for span in around):
            assert any(midi <= coloured(*names[span.symbol]) for span in around), (onset, midi)
            checked += 1
    return checked


def check_bass(chart: Chart, part: PlayedPart, names: Named) -> int:
    """Roots on the changes, no fifth that the chord has not; the notes checked."""
    checked = 0
    starts = {span.start for span in spans(chart)}
    for note in part.notes:
        span, _ = at(spans(chart), note.onset)
        if span.symbol not in names:
            continue
        root, suffix = names[span.symbol]
        number, tones = ROOTS.index(root), spelled(root, suffix)
        checked += 1
        if note.onset in starts:
            assert note.midi % 12 == number
        if {(number + 6) % 12, (number + 8) % 12} & tones and (number + 7) % 12 not in tones:
            assert note.midi % 12 != (number + 7) % 12, (suffix, note)
        if "sus" in suffix or suffix == "5":
            assert note.midi % 12 not in {(number + 3) % 12, (number + 4) % 12}
    return checked


def all_kinds(turn: int) -> Chart:
    """Every kind of chord, each on another root in each of twelve turns."""
    names = [f"{ROOTS[(5 * n + turn) % 12]}{suffix}" for n, suffix in enumerate(KINDS)]
    return chart_of(" | ".join(names), Meter())


@pytest.mark.slow
@pytest.mark.parametrize("style", STYLES, ids=lambda style: style.name)
def test_every_kind_of_chord_is_played_as_another_program_spells_it(style: Style) -> None:
    """All kinds in each style; over the twelve styles each kind stands on all twelve roots."""
    turn = STYLES.index(style)
    chart = all_kinds(turn)
    _, bass, chords = make_backing(chart, style=style, seed=turn)
    names = named(chart)
    assert len(names) == len(KINDS)
    assert check_chords(chart, chords, names) >= len(KINDS)
    assert check_bass(chart, bass, names) == len(bass.notes)


@needs_keyed_charts
@pytest.mark.slow
def test_real_charts_are_played_as_another_program_spells_them() -> None:
    """Source of the charts: see `keyed_charts`. Chords with a bass of their own are left out."""
    keyed = json.loads(FILE.read_text(encoding="utf-8"))
    strokes = notes = 0
    for seed, (keyed_chart, style) in enumerate(zip(keyed[::24], cycle(STYLES), strict=False)):
        bars = " | ".join(" ".join(bar) for bar in keyed_chart["chords"])
        chart = read_chart_text(f"meter: {keyed_chart['meter']}\n| {bars} |")
        _, bass, chords = make_backing(chart, style=style, seed=seed)
        strokes += check_chords(chart, chords, named(chart))
        notes += check_bass(chart, bass, named(chart))
    assert min(strokes, notes) > 100


@pytest.mark.parametrize("style", STYLES[::5], ids=lambda style: style.name)
def test_what_lies_between_roots_is_of_a_scale_that_holds_the_chord(style: Style) -> None:
    """But for the last note before a change, which may lead by any step."""
    chart = chart_of("Dm7 | Dm7 | G7 | G7 | Cmaj7 | Cmaj7", Meter())
    major = {degree.semitones for degree in MODES["Ionian"].degrees}
    notes = make_backing(chart, style=style, choruses=2)[1].notes
    following = [*notes[1:], notes[0]]
    for note, after in zip(notes, following, strict=True):
        if note.midi % 12 not in major:
            assert after.onset % 4 == 0 or after.midi % 12 in {0, 2, 7}
