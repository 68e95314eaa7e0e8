"""Which number has a chart? With the seed it decides how an etude is written.

A seed alone would write the same rhythm over every chart. The number is made of what a chart
says in every key: metres, places and qualities of the chords, and their roots as semitones
above the first root. So a chart moved to another key keeps its rhythms and figures, and a
class hears one etude in each student's key; a title, a tempo and a stated key change nothing.

Conventions
-----------
- A chord that is typed again without another between counts once.
- The digest is SHA-256 (FIPS 180-4), the same on every machine.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from functools import cache
from importlib import import_module
from importlib.util import find_spec
from itertools import groupby
from typing import Any

from halfstep.progression.chart import Bar, ChordAt
from halfstep.progression.symbol import ChordSymbol

DIGEST_MODULES = ("_sha2", "_sha256", "hashlib")
"""Where Python keeps SHA-256, from 3.12 on, in 3.11, and always: the last loads OpenSSL for it,
which takes as long as to write a line, so the standard library's own `random` looks here too."""
DIGITS = 12
"""Of the digest in base 16: 48 bits, of which no two charts of a school are alike."""


def chart_number(bars: Iterable[Bar]) -> int:
    """The number of the bars of a form, the same in every key."""
    words = " ".join(_words(list(bars)))
    return int(_sha256()(words.encode()).hexdigest()[:DIGITS], 16)


@cache
def _sha256() -> Callable[[bytes], Any]:
    modules = filter(find_spec, DIGEST_MODULES)
    digest: Callable[[bytes], Any] = import_module(next(modules)).sha256
    return digest


def _words(bars: list[Bar]) -> Iterator[str]:
    """What the number is made of: metres where they change, and chords in their places."""
    for (meter, beats), run in groupby(bars, key=lambda bar: (bar.meter, bar.beats)):
        yield f"{meter}:{meter.groups}:{beats}*{len(list(run))}"
    chords = [(bar.number, chord) for bar in bars for chord in bar.chords]
    for symbol, same in groupby(chords, key=lambda placed: placed[1].symbol):
        number, chord = next(same)
        yield f"{number}:{chord.at}:{_relative(symbol, chords)}"


def _relative(symbol: ChordSymbol, chords: list[tuple[int, ChordAt]]) -> str:
    """A chord with its root and bass as semitones above the first root of the chart."""
    if symbol.silent:
        return "silent"
    first = next(chord.symbol.root for _, chord in chords if not chord.symbol.silent)
    names = [symbol.root, *([symbol.bass] if symbol.bass else [])]
    above = "/".join(str((name.pitch_class - first.pitch_class) % 12) for name in names)
    return f"{above}{symbol.quality_text}{symbol.extension_text}"
