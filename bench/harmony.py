"""How long does a chart take to explain, and does it grow with its length alone?

Run ``python bench/harmony.py [bars]`` (32,000 when not given). Charts of random chords in
moving keys are explained cold, with every cache of ours empty, and again warm. Beside it,
in the same run, music21 (BSD) names the roman numeral of each chord in its key, which is
one of the things that we find.

First, where the charts with keys of experts lie beside the repository, how far our keys agree
with theirs, by halves of the file and by major and minor homes. The baseline is the experts'
home key held constant; see ``tests/keyed_charts.py``.
"""

from __future__ import annotations

import random
import sys
import warnings
from collections.abc import Callable
from itertools import chain
from pathlib import Path
from statistics import median
from time import perf_counter

from halfstep.harmony import (
    blues,
    changes,
    function,
    home_key,
    key_costs,
    key_signatures,
    key_table,
    local_keys,
    scale_choice,
    scales,
    tones,
)
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.meter import Meter
from halfstep.pitch import name_at
from halfstep.progression import symbol
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.symbol import parse_symbol

SEED = 4
MODULES = (
    *(blues, changes, function, home_key, key_costs, key_signatures, key_table),
    *(local_keys, scale_choice, scales, symbol, tones),
)
PATTERNS = (
    ((2, "m7"), (1, "7"), (0, "maj7"), (0, "6")),
    ((2, "m7b5"), (1, "7b9"), (0, "m6"), (0, "m7")),
    ((0, "7"), (-1, "7"), (0, "7"), (1, "7")),
    ((0, "maj7"), (3, "7"), (2, "m7"), (-5, "7")),
    ((4, "7"), (3, "7"), (2, "7"), (1, "7")),
)
"""Four bars each, as fifths over the tonic and a suffix."""


def chart_of(bars: int) -> Chart:
    """A chart of patterns in keys that move by chance."""
    chance = random.Random(SEED)
    keys = (chance.randint(-4, 5) for _ in range(bars // 4))
    chords = chain.from_iterable(
        ((key + fifths, suffix) for fifths, suffix in chance.choice(PATTERNS)) for key in keys
    )
    meter = Meter()
    return Chart(
        "bench",
        tuple(
            Bar(n, meter, meter.bar_beats, (ChordAt(symbol_at(*chord), meter.bar_beats * 0),), n)
            for n, chord in enumerate(chords, 1)
        ),
    )


def symbol_at(fifths: int, suffix: str) -> symbol.ChordSymbol:
    return parse_symbol(name_at(fifths).ascii + suffix)


def clear() -> None:
    """Empty every cache of ours."""
    for module in MODULES:
        for made in vars(module).values():
            if hasattr(made, "cache_clear"):
                made.cache_clear()


def explain(chart: Chart) -> Analysis:
    """All that `halfstep changes` asks of an analysis."""
    analysis = analyse(chart)
    assert analysis.regions
    assert analysis.signatures
    assert len(analysis.guide_tones)
    return analysis


def seconds(chart: Chart, *, cold: bool, runs: int) -> float:
    times = []
    for _ in range(runs):
        if cold:
            clear()
        start = perf_counter()
        explain(chart)
        times.append(perf_counter() - start)
    return median(times)


def music21_seconds(analysis: Analysis) -> float:
    """Roman numerals of the same chords in the same keys."""
    from music21 import chord, key, roman

    figures = [
        (
            [tone.name.ascii.replace("b", "-") for tone in explained.tones],
            ("" if not explained.key.minor else "m", explained.key.tonic.ascii.replace("b", "-")),
        )
        for explained in analysis.chords
    ]
    start = perf_counter()
    for names, (minor, tonic) in figures:
        roman.romanNumeralFromChord(chord.Chord(names), key.Key(tonic.lower() if minor else tonic))
    return perf_counter() - start


def main(most: int) -> None:
    """Print the curve and the ratio."""
    print(f"{'bars':>8} {'cold ms':>10} {'warm ms':>10} {'warm µs a bar':>14}")
    bars = 32
    while bars <= most:
        chart = chart_of(bars)
        runs = 5 if bars <= 1000 else 1
        cold = seconds(chart, cold=True, runs=runs)
        warm = seconds(chart, cold=False, runs=runs)
        print(f"{bars:8} {cold * 1e3:10.1f} {warm * 1e3:10.1f} {warm / bars * 1e6:14.1f}")
        bars *= 10
    chart = chart_of(32)
    ours, theirs = seconds(chart, cold=False, runs=5), music21_seconds(explain(chart))
    print(f"music21's roman numerals of 32 bars: {theirs * 1e3:.1f} ms")
    print(f"halfstep explains them in {ours * 1e3:.1f} ms, {theirs / ours:.0f} times as fast")


def print_agreements() -> None:
    """Print the share of home keys and of beats in the keys of experts."""
    sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
    from keyed_charts import FILE, Agreement, agreements, shares

    if not FILE.is_file():
        return
    groups: dict[str, Callable[[Agreement], bool]] = {
        "all": lambda _: True,
        "major homes": lambda chart: not chart.named.minor,
        "minor homes": lambda chart: chart.named.minor,
        "even places": lambda chart: chart.place % 2 == 0,
        "odd places": lambda chart: chart.place % 2 == 1,
    }
    print(f"{'keys of experts':16} {'charts':>6} {'home':>6} {'local':>6} {'constant':>9}")
    for name, belongs in groups.items():
        charts = list(filter(belongs, agreements()))
        home, local, constant = (f"{share:.1%}" for share in shares(charts))
        print(f"{name:16} {len(charts):6} {home:>6} {local:>6} {constant:>9}")


if __name__ == "__main__":
    warnings.simplefilter("ignore")
    print_agreements()
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 32_000)
