"""Progressions invented for the tests, and how to write more."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

from hypothesis import strategies as st

from halfstep.backing import STYLES, Style
from halfstep.meter import Meter, parse_meter
from halfstep.pitch import Interval
from halfstep.played import PlayedNote
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.symbol import parse_symbol

SWINGING, EVEN = (next(s for s in STYLES if s.name == name) for name in ("swing", "straight"))

_METERS = "2/4 3/4 4/4 5/4 6/4 7/4 2/2 3/2 3/8 5/8 6/8 7/8 9/8 12/8 1/4 4/1 5/16"
METERS = tuple(map(parse_meter, _METERS.split()))
_SYMBOLS = """
    C Dm G7 F#m7b5 Bb7alt Ebmaj7 A7sus4 Dsus2 E5 Ab6 Cm6/9 Gdim7 D7b9 F13 Bm(maj7) Caug C7/Bb
    Am7/E Fadd9 G(no3) C11 E7#9 Gb7#5 N.C. Db9 A+maj7 C7(no5)
"""
SYMBOLS = tuple(_SYMBOLS.split())


def chart_of(text: str, meter: Meter) -> Chart:
    """A chart from bars between strokes, the chords of a bar spread evenly."""
    bars = []
    for number, words in enumerate((bar.split() for bar in text.split("|")), 1):
        at = (meter.bar_beats * Fraction(n, len(words)) for n in range(len(words)))
        chords = tuple(ChordAt(parse_symbol(w), a) for w, a in zip(words, at, strict=True))
        bars.append(Bar(number, meter, meter.bar_beats, chords, number))
    return Chart("Thursday class", tuple(bars))


def pickup_before(chart: Chart, beats: Fraction) -> Chart:
    """The chart with a pickup bar, number 0."""
    bar = Bar(0, chart.meter, beats, (), 0)
    return Chart(chart.title, (bar, *chart.bars))


SWING = chart_of(
    "F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7b9 | Gm7 | C7alt | F7 D7 | Gm7 C7",
    Meter(4, 4),
)
WALTZ = chart_of("Gmaj7 | Em7 | Am7 | D13 | Bm7 | E7b9 | Am9 | Gmaj7/B", Meter(3, 4))
SIX_EIGHT = chart_of("Dm | Am7/C | Bbmaj7 | A7 | Gm7 | N.C. | Em7b5 A7 | Dm(maj7)", Meter(6, 8))


@st.composite
def charts(draw: st.DrawFn) -> Chart:
    """Charts whose metre, bar length and chords change from bar to bar."""
    bars: list[Bar] = []
    for number in range(1, draw(st.integers(1, 6)) + 1):
        meter = draw(st.sampled_from(METERS))
        shorter = draw(st.integers(0, 2)) == 0
        eighths = max(1, int(meter.bar_beats * 2))
        beats = Fraction(draw(st.integers(1, eighths)), 2) if shorter else meter.bar_beats
        steps = draw(_places(beats)) if draw(st.booleans()) else [Fraction(0)]
        names = [draw(st.sampled_from(SYMBOLS)) for _ in steps]
        chords = tuple(ChordAt(parse_symbol(n), a) for n, a in zip(names, steps, strict=True))
        bars.append(Bar(number, meter, beats, chords, number))
    chart = Chart("Thursday class", tuple(bars))
    return pickup_before(chart, Fraction(1, 2)) if draw(st.booleans()) else chart


def _places(beats: Fraction) -> st.SearchStrategy[Sequence[Fraction]]:
    eighths = max(1, int(beats * 2))
    places = st.sets(st.integers(0, eighths - 1), min_size=0, max_size=4)
    return places.map(lambda found: sorted(Fraction(n, 2) for n in found))


MINOR = chart_of(
    "Cm7 | Fm7 | Dm7b5 | G7alt | Cm6 | Abmaj7 | Dm7b5 G7b9 | Cm(maj7) | Ebmaj7 | Ab7#11 | "
    "G7sus4 | G7b9",
    Meter(4, 4),
)
VAMP = chart_of(" | ".join(["Dm7"] * 8), Meter(4, 4))

_TWELVE_KEYS = (
    (0, 0), (1, 1), (1, 2), (2, 3), (2, 4), (3, 5), (3, 6), (4, 7), (5, 8), (5, 9), (6, 10),
    (6, 11),
)  # fmt: skip


def in_keys(chart: Chart) -> list[Chart]:
    """The chart on twelve roots."""
    return [chart.moved(Interval(*rise)) for rise in _TWELVE_KEYS]


def style_named(name: str) -> Style:
    return next(style for style in STYLES if style.name == name)


def blocks_of(chart: Chart, notes: Sequence[PlayedNote]) -> list[list[tuple[Fraction, int]]]:
    """The notes of each chorus, counted from its start."""
    choruses: list[list[tuple[Fraction, int]]] = [[] for _ in range(4)]
    for note in notes:
        chorus = int(note.onset // chart.beats)
        choruses[chorus].append((note.onset - chorus * chart.beats, note.midi))
    return choruses
