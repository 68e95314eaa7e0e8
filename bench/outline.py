"""How fast is a line measured, beside reading its notes from a file?

Run ``python bench/outline.py``. Made-up lines of eighths over two charts, one chord or two a
bar, from a thousand notes to a hundred thousand; the median of the runs counts. The same
notes as a MIDI file are parsed by mido (MIT), which does no more than list the events: who
measures a MIDI file waits for that first. The caches are warm; there is little in them.
"""

from __future__ import annotations

import io
import random
from collections.abc import Callable
from fractions import Fraction
from statistics import median
from time import perf_counter

import mido

from halfstep.harmony.line_figures import LineNote
from halfstep.harmony.outline import outline
from halfstep.meter import Meter
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.render.midi_file import midi_bytes

SEED = 20
RUNS = 7
COUNTS = (1_000, 10_000, 100_000)
CHARTS = {
    "one chord a bar": "| Dm7 | G7 | Cmaj7 | A7 | Fm7 | Bb7 | Ebmaj7 | Am7b5 |",
    "two chords a bar": "| Dm7 G7 | Cmaj7 A7 | Fm7 Bb7 | Ebmaj7 Am7b5 |",
}


def midi_file(line: list[LineNote]) -> bytes:
    """The line as a MIDI file."""
    half = Fraction(1, 2)
    notes = tuple(PlayedNote(n * half, half, note.midi, 80) for n, note in enumerate(line))
    part = PlayedPart("line", 65, percussion=False, notes=notes)
    return midi_bytes([part], meter=Meter(), tempo_bpm=120)


def seconds(work: Callable[[], object], runs: int = RUNS) -> float:
    """The median time of some runs."""
    return median(_timed(work) for _ in range(runs))


def _timed(work: Callable[[], object]) -> float:
    start = perf_counter()
    work()
    return perf_counter() - start


def main() -> None:
    """Print the rates and their ratios."""
    rng = random.Random(SEED)
    for count in COUNTS:
        line = [LineNote(n / 2, 0.5, rng.randrange(55, 80)) for n in range(count)]
        data = midi_file(line)
        reading = seconds(lambda data=data: mido.MidiFile(file=io.BytesIO(data)), 3)
        print(f"{count:,} notes; mido lists them from a file in {1000 * reading:.1f} ms")
        for name, text in CHARTS.items():
            chart = played(read_sheet_text(text))
            taken = seconds(lambda line=line, chart=chart: outline(line, chart))
            changes = len(outline(line, chart).changes)
            print(
                f"  {name:17} {1000 * taken:7.1f} ms, {count / taken:9,.0f} notes a second, "
                f"{changes:,} changes; {reading / taken:.1f} times as fast as mido"
            )


if __name__ == "__main__":
    main()
