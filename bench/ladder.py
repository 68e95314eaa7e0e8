"""Does the ladder climb? A measure of difficulty for each step and level, and where it falls.

Run ``python bench/ladder.py``. Each step over the invented charts of `etudes`, for three players
and two seeds, in concert pitch. Six figures of a line, each with what counts as one of difficulty:

- intervals: the mean size, 4 semitones;
- density: notes a beat, 2;
- range: from the lowest note to the highest, 24 semitones;
- syncopation: notes begun off a beat and held over the next one, a quarter of all;
- chromatics: notes from outside the scale of their chord, a quarter of all;
- fingering: moves that lie badly or cross the break, a quarter of all.

Their sum is the measure; the table has its mean by level, and the six for the advanced. A level
below the one before it is marked with ``<``, a step below the one before it with ``v``. The units
are common practice, no source: the measure orders lines, it does not say how hard one is.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from statistics import mean

from etudes import CHARTS

from halfstep.errors import BriefError
from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import Approach
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text

PLAYERS, SEEDS, TEMPO_BPM = ("alto-sax", "clarinet", "trumpet"), (0, 1), 120.0
UNITS = {
    "intervals": 4.0, "density": 2.0, "range": 24.0,
    "syncopation": 0.25, "chromatics": 0.25, "fingering": 0.25,
}  # fmt: skip
"""How much of each is one of difficulty."""
TITLES = ("blues", "ii-V-I", "minor ii-V-i")


def figures(etude: Etude) -> list[float]:
    """The six figures of a line, each in its unit."""
    sounding = [note for note in etude.notes if note.pitch]
    midis = [note.pitch.midi for note in sounding if note.pitch]
    moves = list(pairwise(midis))
    count, steps = max(1, len(midis)), max(1, len(moves))
    down = etude.brief.instrument.rise.semitones
    broken = etude.brief.instrument.break_midi
    barrier = None if broken is None else broken - down
    pairs = awkward_pairs(etude.brief.instrument)
    hard = sum(
        (min(old, new), max(old, new)) in pairs
        or (barrier is not None and (old < barrier) != (new < barrier))
        for old, new in moves
    )
    held = sum(n.onset % 1 != 0 and (n.onset + n.beats) > n.onset // 1 + 1 for n in sounding)
    outside = sum(note.approach is Approach.CHROMATIC for note in sounding)
    outside += sum(n.approach is Approach.ENCLOSURE and n.degree is None for n in sounding)
    values = (
        mean([abs(new - old) for old, new in moves] or [0]),
        count / float(sum(note.beats for note in sounding) or 1),
        max(midis, default=0) - min(midis, default=0),
        held / count,
        outside / count,
        hard / steps,
    )
    return [value / unit for value, unit in zip(values, UNITS.values(), strict=True)]


def of_step(step: Step, level: Level) -> list[float]:
    """The mean of each figure over charts, players and seeds."""
    rows = []
    for title in TITLES:
        analysis = analyse(played(read_sheet_text(CHARTS[title])), level=level)
        for player in PLAYERS:
            for seed in SEEDS:
                brief = Brief(INSTRUMENTS[player], level, TEMPO_BPM, seed)
                try:
                    rows.append(figures(write_etude(step, analysis, brief)))
                except BriefError:
                    continue
    return [mean(column) for column in zip(*rows, strict=True)]


def marked(sums: Sequence[float], before: Sequence[float]) -> str:
    """The sums of a step by level, with marks where one is lower than the one before it."""
    texts = []
    for place, value in enumerate(sums):
        easier = place > 0 and value < sums[place - 1]
        lower = bool(before) and value < before[place]
        texts.append(f"{value:6.2f}{'<' if easier else ' '}{'v' if lower else ' '}")
    return "".join(texts)


def main() -> None:
    """Print the table."""
    heads = "".join(f"{level.value[:6]:>6}  " for level in Level)
    print(f"{'':21}{heads} advanced: " + " ".join(UNITS))
    before: list[float] = []
    falls = easier = 0
    for step in STEPS:
        rows = [of_step(step, level) for level in Level]
        sums = [sum(row) for row in rows]
        easier += sum(new < old for old, new in pairwise(sums))
        falls += sum(new < old for old, new in zip(before, sums, strict=False))
        last = " ".join(f"{value:5.2f}" for value in rows[-1])
        print(f"{step.name:21}{marked(sums, before)}  {last}", flush=True)
        before = sums
    print(f"lower than the level before: {easier} of {2 * len(STEPS)}")
    print(f"lower than the step before:  {falls} of {3 * (len(STEPS) - 1)}")


if __name__ == "__main__":
    main()
