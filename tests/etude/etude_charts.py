"""Charts for the tests of the etudes: invented ones, and random ones by seed."""

from __future__ import annotations

import random
from fractions import Fraction
from functools import cache

from hypothesis import strategies as st

from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_writer import write_etude, write_etudes
from halfstep.etude.steps import STEPS, find_step, parse_steps
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.pitch import name_at
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.symbol import parse_symbol
from strategies import COMMON, ROOTS
from typed_charts import read_chart_text

INVENTED = {
    "evening class": "key: F\n| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 |",
    "twelve bars": (
        "key: Bb\n| Bb7 | Eb7 | Bb7 | Fm7 Bb7 | Eb7 | Edim7 | Bb7 | Dm7b5 G7b9 "
        "| Cm7 | F7 | Bb7 G7 | Cm7 F7 |"
    ),
    "sixteen bars": (
        "key: Eb\n| Ebmaj7 | % | Abmaj7 | % | Gm7 | C7b9 | Fm7 | Bb7 "
        "| Ebmaj7 | Am7b5 D7 | Gm | % | Fm7 | Bb7 | Ebmaj7 | Bb7alt |"
    ),
    "dominants": "| E7 | A7 | D7 | G7 | C7 | F7 | Bb7 | Eb7 |",
    "minor": "key: Cm\n| Cm6 | Fm7 | Dm7b5 G7b9 | Cm6 | Abmaj7 | Dbmaj7#11 | G7alt | Cm(maj7) |",
    "waltz": "meter: 3/4\nkey: G\n| Gmaj7 | Em7 | Am7 | D7 | Bm7 | E7b9 | Am7 | D7 |",
    "six eight": "meter: 6/8\nkey: Dm\n| Dm | Bbmaj7 | Gm7 A7 | Dm7 | Em7b5 | A7b9 | Dm6 | A7 |",
}
"""Progressions made up for these tests."""

FIRST_SIX = tuple(step.name for step in parse_steps("1-6"))
LATER = tuple(step.name for step in parse_steps("7-12"))
NAMES_OF_STEPS = tuple(step.name for step in STEPS)

METERS = (Meter(4, 4), Meter(3, 4), Meter(6, 8), Meter(5, 4), Meter(2, 2))


def chart_named(name: str) -> Chart:
    return read_chart_text(INVENTED[name])


def chart_with(meter: Meter, bars: int, chords: list[tuple[Fraction, str]]) -> Chart:
    """A chart of equal bars with a chord symbol at each of those beats."""
    made = []
    for number in range(1, bars + 1):
        start = meter.bar_beats * (number - 1)
        here = tuple(
            ChordAt(parse_symbol(symbol), at - start)
            for at, symbol in chords
            if start <= at < start + meter.bar_beats
        )
        made.append(Bar(number, meter, meter.bar_beats, here, number))
    return Chart("Thursday class", tuple(made))


def lengths_in(meter: Meter) -> list[Fraction]:
    """How long a chord may last: one, two, three beats, a bar, two or four bars."""
    pulse = meter.pulse_beats if meter.compound else Fraction(1)
    return [pulse, 2 * pulse, 3 * pulse, *[meter.bar_beats] * 3] + [
        meter.bar_beats * bars for bars in (2, 4)
    ]


def random_chart(rng: random.Random, meter: Meter, *, silent: float = 0.03) -> Chart:
    """Any chord on any root, each for one beat to four bars; four to twelve bars."""
    bars = rng.randint(4, 12)
    chords = [(Fraction(0), rng.choice(ROOTS) + rng.choice(COMMON))]
    at = rng.choice(lengths_in(meter))
    while at < bars * meter.bar_beats:
        symbol = rng.choice(ROOTS) + rng.choice(COMMON)
        chords.append((at, "N.C." if rng.random() < silent else symbol))
        at += rng.choice(lengths_in(meter))
    return chart_with(meter, bars, chords)


@st.composite
def etude_charts(draw: st.DrawFn) -> Chart:
    """What `random_chart` makes, drawn so that a failing chart shrinks."""
    meter = draw(st.sampled_from(METERS))
    bars = draw(st.integers(1, 6))
    symbols = st.builds("{}{}".format, st.sampled_from(ROOTS), st.sampled_from(COMMON))
    chords = [(Fraction(0), draw(symbols))]
    at = draw(st.sampled_from(lengths_in(meter)))
    while at < bars * meter.bar_beats:
        silent = draw(st.integers(0, 15)) == 15
        chords.append((at, "N.C." if silent else draw(symbols)))
        at += draw(st.sampled_from(lengths_in(meter)))
    return chart_with(meter, bars, chords)


def briefs() -> st.SearchStrategy[Brief]:
    """Every instrument, level and tempo."""
    return st.builds(
        Brief,
        st.sampled_from(list(INSTRUMENTS.values())),
        st.sampled_from(list(Level)),
        st.integers(40, 300).map(float),
        st.integers(0, 9999),
    )


TWELVE_KEYS = [name_at(fifths) for fifths in range(-6, 6)]


@cache
def written(
    step: str, name: str, instrument: str, level: Level, seed: int = 0, tempo_bpm: float = 120.0
) -> Etude:
    """A step over one of the invented charts, written once for all tests."""
    brief = Brief(INSTRUMENTS[instrument], level, tempo_bpm, seed)
    return write_etude(find_step(step), analysis_named(name, level), brief)


@cache
def written_with_kin(
    step: str, name: str, instrument: str, level: Level, seed: int
) -> tuple[Etude, ...]:
    """The etudes of a seed and its kin, the first of which has this seed."""
    brief = Brief(INSTRUMENTS[instrument], level, 120.0, seed)
    return write_etudes(find_step(step), analysis_named(name, level), brief, kin_of(step, level))


def kin_of(step: str, level: Level) -> int:
    return find_step(step).beginners_kin if level is Level.BEGINNER else 1


def of_seeds(step: str, name: str, level: Level, seeds: range) -> list[Etude]:
    """One etude for each seed, kin written together."""
    kin = kin_of(step, level)
    return [
        written_with_kin(step, name, "alto-sax", level, seed - seed % kin)[seed % kin]
        for seed in seeds
    ]


@cache
def analysis_named(name: str, level: Level) -> Analysis:
    """The analysis of an invented chart, worked out once."""
    return analyse(chart_named(name), level=level)
