"""Charts with the key that an expert gave each bar, and how far ours agree.

Source: the sections of choros in DCMLab/choro (commit fe409c6, CC BY-NC-SA 4.0), chords and
keys; read where they lie, for checks alone. The even places of the file, counted from 0, were
in sight while costs were chosen by reasons and on other material; the odd ones were not.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from typing import Any

import pytest

from halfstep.harmony.analysis import analyse
from halfstep.progression.key import Key, parse_key
from reference_files import DATA
from typed_charts import read_chart_text

FILE = DATA / "keyed-charts" / "choro-sections.json"
needs_keyed_charts = pytest.mark.skipif(not FILE.is_file(), reason="the keyed charts are not here")


@dataclass(frozen=True, slots=True)
class Agreement:
    """How far the keys of a chart are those of the experts.

    Attributes
    ----------
    place : int
        In the file, from 0.
    name : str
    named, home : Key
        The experts' home key and ours.
    beats, agreeing, constant : Fraction
        In all; where the local keys are the same; where the experts' are their home key.
    """

    place: int
    name: str
    named: Key
    home: Key
    beats: Fraction
    agreeing: Fraction
    constant: Fraction

    @property
    def same_home(self) -> bool:
        return _same(self.home, self.named)


@cache
def agreements() -> tuple[Agreement, ...]:
    """One for each chart of the file."""
    charts = json.loads(FILE.read_text(encoding="utf-8"))
    return tuple(_agreement(place, chart) for place, chart in enumerate(charts))


def _agreement(place: int, keyed: dict[str, Any]) -> Agreement:
    bars = " | ".join(" ".join(bar) for bar in keyed["chords"])
    analysis = analyse(read_chart_text(f"meter: {keyed['meter']}\n| {bars} |"))
    bar_beats = analysis.chart.meter.bar_beats
    named = parse_key(keyed["home"])
    keys = [parse_key(text) for text in keyed["keys"]]
    beats = agreeing = constant = Fraction(0)
    for chord in analysis.chords:
        for bar, length in _by_bar(chord.span.start, chord.span.end, bar_beats):
            beats += length
            agreeing += length * _same(chord.key, keys[bar])
            constant += length * _same(named, keys[bar])
    return Agreement(place, keyed["name"], named, analysis.home, beats, agreeing, constant)


def _by_bar(start: Fraction, end: Fraction, bar_beats: Fraction) -> Iterator[tuple[int, Fraction]]:
    """The bars that a span touches, from 0, and how much of it lies in each."""
    while start < end:
        bar = int(start // bar_beats)
        stop = min(end, (bar + 1) * bar_beats)
        yield bar, stop - start
        start = stop


def _same(one: Key, two: Key) -> bool:
    """True for the same key, however spelled."""
    return (one.tonic.pitch_class, one.minor) == (two.tonic.pitch_class, two.minor)


def shares(charts: Iterable[Agreement]) -> tuple[float, float, float]:
    """Of some charts the share with the same home, and of their beats the other two."""
    some = list(charts)
    beats = sum(chart.beats for chart in some)
    return (
        sum(chart.same_home for chart in some) / len(some),
        float(sum(chart.agreeing for chart in some) / beats),
        float(sum(chart.constant for chart in some) / beats),
    )
