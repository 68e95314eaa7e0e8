"""Count how solos are phrased: which beat follows which, how long phrases last, how lines move.

python training/count_solos.py [OUT.json]

Reads the transcribed solos beside the repository (``shared/data/masters``, tables derived by
the authors of the jazzodata repository, MIT), those with odd numbers alone: the others are kept
for `bench/masters.py`. What is written are counts, and no line can be read from them.

Conventions
-----------
- Onsets are on a grid, and each beat has one of the eight kinds of
  `halfstep.etude.beat_kinds.BEAT_KINDS`; a beat cut into more than four counts as four.
- Lengths are as played, so a note lasts until the next one begins. A rest is what lies between
  the phrases of the tables, and `REST_BEATS` or more: a gap below it is a note that is held.
- What comes last in a phrase lasts as played, in eighths, `LONGEST_LAST` of them at most.
"""

from __future__ import annotations

import gzip
import json
import sys
from collections.abc import Callable, Iterator, Sequence
from itertools import groupby, pairwise
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
sys.path[:0] = [str(HERE.parent / "src")]

from halfstep.etude.beat_kinds import BEAT_KINDS  # noqa: E402
from halfstep.etude.solo_counts import (  # noqa: E402
    COMPASS_CLASS,
    LONGEST_LAST,
    LONGEST_PHRASE,
    LONGEST_REST,
    LONGEST_RUN,
    SHAPED,
    SHIPPED,
    WIDEST,
    WIDEST_COMPASS,
    interval_class,
)

SOLOS = HERE.parents[1] / "shared" / "data" / "masters" / "solos.json.gz"
REST_BEATS = 1.0
Note = Sequence[Any]
"""Onset and length in beats, MIDI number, chord, phrase."""


def odd_phrases(path: Path = SOLOS) -> Iterator[list[Note]]:
    """The phrases of the solos with odd numbers; two without a rest between are one."""
    for solo in json.loads(gzip.decompress(path.read_bytes())):
        if solo["solo"] % 2 == 0:
            continue
        phrase: list[Note] = []
        for _, group in groupby(solo["notes"], key=lambda note: note[4]):
            notes = list(group)
            if phrase and notes[0][0] - phrase[-1][0] < REST_BEATS:
                phrase += notes
                continue
            if phrase:
                yield phrase
            phrase = notes
        yield phrase


def beat_kinds(phrase: Sequence[Note]) -> tuple[int, list[int]]:
    """The beat a phrase begins in, and the kind of each beat until it ends."""
    beats: dict[int, list[float]] = {}
    for onset, *_ in phrase:
        beats.setdefault(int(onset), []).append(round(onset % 1, 3))
    first, last = min(beats), max(beats)
    return first, [_kind(beats.get(beat, [])) for beat in range(first, last + 1)]


def _kind(places: Sequence[float]) -> int:
    """The kind of beat: with as many notes as those, and as near to where they begin."""
    count = min(len(places), max(len(kind) for kind in BEAT_KINDS))
    alike = [number for number, kind in enumerate(BEAT_KINDS) if len(kind) == count]

    def distance(number: int) -> float:
        pairs = zip(BEAT_KINDS[number], places, strict=False)
        return sum(abs(float(meant) - place) for meant, place in pairs)

    return min(alike, key=distance)


def counts(phrases: Sequence[Sequence[Note]]) -> dict[str, Any]:
    """All that is counted, as plain lists."""
    kinds, turn = len(BEAT_KINDS), 2 * WIDEST + 1
    begins = [[0] * kinds for _ in range(4)]
    pairs = [[0] * kinds for _ in range(kinds)]
    triples = [[[0] * kinds for _ in range(kinds)] for _ in range(kinds)]
    ends = [[0] * kinds for _ in range(kinds)]
    phrase_beats, rest_eighths = [0] * LONGEST_PHRASE, [0] * LONGEST_REST
    last_eighths = [0] * LONGEST_LAST
    moves = [[0] * turn for _ in range(interval_class(WIDEST) + 1)]
    runs = [[0] * LONGEST_RUN for _ in range(2)]
    shapes = [[0] * 4 for _ in range(4)]
    compasses = [0] * (WIDEST_COMPASS // COMPASS_CLASS + 1)
    for phrase in phrases:
        first, beats = beat_kinds(phrase)
        begins[first % 4][beats[0]] += 1
        phrase_beats[min(len(beats), LONGEST_PHRASE) - 1] += 1
        if len(beats) > 1:
            ends[beats[-2]][beats[-1]] += 1
        for old, new in pairwise(beats[:-1]):
            pairs[old][new] += 1
        for old, middle, new in zip(beats, beats[1:-1], beats[2:-1], strict=False):
            triples[old][middle][new] += 1
        last_eighths[last_eighth_count(phrase) - 1] += 1
        sizes = [b[2] - a[2] for a, b in pairwise(phrase)]
        for old_move, move in pairwise(sizes):
            if abs(move) <= WIDEST:
                moves[interval_class(old_move)][move + WIDEST] += 1
        for way, length in runs_one_way(sizes):
            runs[way > 0][min(length, LONGEST_RUN) - 1] += 1
        if len(phrase) >= SHAPED:
            shapes[fourth_of(phrase, max)][fourth_of(phrase, min)] += 1
            midis = [note[2] for note in phrase]
            compasses[min(WIDEST_COMPASS, max(midis) - min(midis)) // COMPASS_CLASS] += 1
    for old_phrase, phrase in pairwise(phrases):
        gap = phrase[0][0] - old_phrase[-1][0]
        if gap > 0:
            rest = round(gap * 2) - last_eighth_count(old_phrase)
            rest_eighths[min(LONGEST_REST, max(1, rest)) - 1] += 1
    return {
        "phrases begin": begins,
        "two beats": pairs,
        "three beats": triples,
        "phrases end": ends,
        "beats of a phrase": phrase_beats,
        "eighths of rest between phrases": rest_eighths,
        "eighths of the last note": last_eighths,
        "intervals": moves,
        "intervals one way": runs,
        "top and bottom by fourths": shapes,
        "compass in thirds": compasses,
    }


def last_eighth_count(phrase: Sequence[Note]) -> int:
    """How many eighths the last note of a phrase sounds."""
    return min(LONGEST_LAST, max(1, round(phrase[-1][1] * 2)))


def runs_one_way(sizes: Sequence[int]) -> Iterator[tuple[int, int]]:
    """How many intervals go one way, down or up, before the line turns; repeats go on."""
    way, length = 0, 0
    for size in sizes:
        new = (size > 0) - (size < 0)
        if new and new != way:
            if way:
                yield way, length
            way, length = new, 0
        length += 1
    if way:
        yield way, length


def fourth_of(phrase: Sequence[Note], extreme: Callable[[list[int]], int]) -> int:
    """In which fourth of its notes a phrase first has its highest or lowest one."""
    midis = [note[2] for note in phrase]
    return 4 * midis.index(extreme(midis)) // len(midis)


def text_of(counted: dict[str, Any]) -> str:
    """The counts as a file, a row of numbers on each line."""
    lines = [f' "{name}": {json.dumps(rows)}' for name, rows in counted.items()]
    return "{\n" + ",\n".join(lines).replace("], [", "],\n  [") + "\n}\n"


def main() -> None:
    """Write the file that is shipped, or another."""
    out = Path(sys.argv[1]) if len(sys.argv) > 1 else SHIPPED
    counted = counts(list(odd_phrases()))
    out.write_text(text_of(counted), encoding="utf-8")
    print(f"{out}: {sum(number_count(rows) for rows in counted.values())} counts")


def number_count(rows: Any) -> int:
    """How many numbers stand in nested lists."""
    return sum(map(number_count, rows)) if isinstance(rows, list) else 1


if __name__ == "__main__":
    main()
