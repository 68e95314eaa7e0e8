"""Does the ladder climb? A measure of difficulty for each step and level, and where it falls.

Run ``python bench/ladder.py [--all]``. Each step over invented charts of `etudes`, for an alto
saxophone (``--all``: a clarinet and a trumpet as well) and two seeds, in concert pitch. Six figures
of a line, each with what counts as one of difficulty:

- intervals: how wide they are, 8 semitones on the mean, and how many different ones must be read,
  5 bits; a note that is struck again is no interval, and makes those around it no smaller;
- density: notes a beat, 2;
- range: from the lowest note to the highest, 24 semitones;
- syncopation: notes that begin off a beat and are held over the next one, or begin it after a rest,
  and half of those inside a triplet or a pair of sixteenths, a quarter of all;
- chromatics: notes from outside the scale, and half of those from outside the chord, which have to
  go somewhere as well, 3 in 10 of all;
- fingering: moves after less than a beat that lie badly or cross the break, 6 in 10 of all: after a
  longer note there is time for them.

Their sum is the measure; the table has its mean by level, and the six for the advanced. A level
below the one before it is marked with ``<``, a step with ``v`` that falls more than `TOLERANCE`
below the last one that is not named in `APART`. The units are common practice, no source: the
measure orders lines, it does not say how hard one is.
"""

from __future__ import annotations

import argparse
from collections import Counter
from collections.abc import Hashable, Iterator, Mapping, Sequence
from itertools import pairwise
from math import log2
from statistics import mean

from etudes import CHARTS

from halfstep.errors import BriefError
from halfstep.etude.awkward_pairs import awkward_pairs
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_notes import EtudeNote
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
TITLES = ("blues", "ii-V-I", "minor ii-V-i", "cycle", "far", "again", "cliché", "thirds")
NAMES = ("intervals", "density", "range", "syncopation", "chromatics", "fingering")
TOLERANCE = 0.1
"""How far a step may fall below the one before: two seeds do not tell less apart."""
APART = {
    "question": "by ear, and before theory: half of the bars are the player's",
    "guide-tones": "long notes by design: what is new is to hear where they lead",
    "cells": "even eighths with a leap in each, for beginners as well: no easier than what follows",
    "motif": "one figure of a few notes in every bar: what is hard is to keep it",
    "call-and-response": "half of the bars are the player's, and are not counted",
}
"""Steps that stand apart from the climb, easier or harder by nature, with the reason."""


def figures(etude: Etude) -> list[float]:
    """The six figures of a line, each in its unit."""
    sounding = [note for note in etude.notes if note.pitch]
    midis = [note.pitch.midi for note in sounding if note.pitch]
    moves = [(old, new) for old, new in pairwise(sounding) if old.pitch != new.pitch]
    count = max(1, len(sounding))
    wide = mean([abs(_midi(new) - _midi(old)) for old, new in moves] or [0])
    hard = sum(_is_hard(etude, old, new) for old, new in moves)
    return [
        wide / 8 + _bits(_staff_steps(moves)) / 5,
        count / float(sum(note.beats for note in sounding) or 1) / 2,
        (max(midis, default=0) - min(midis, default=0)) / 24,
        sum(_syncopated(etude)) / count / 0.25,
        sum(_foreign(etude, note) for note in sounding) / count / 0.3,
        hard / max(1, len(moves)) / 0.6,
    ]


def _midi(note: EtudeNote) -> int:
    assert note.pitch
    return note.pitch.midi


def _staff_steps(moves: Sequence[tuple[EtudeNote, EtudeNote]]) -> list[int]:
    return [
        new.pitch.staff_step - old.pitch.staff_step for old, new in moves if old.pitch and new.pitch
    ]


def _bits(items: Sequence[Hashable]) -> float:
    """How much there is to read in items of which some come often."""
    shares = [count / len(items) for count in Counter(items).values()]
    return -sum(share * log2(share) for share in shares)


def _is_hard(etude: Etude, old: EtudeNote, new: EtudeNote) -> bool:
    """A move after less than a beat that lies badly or crosses the break."""
    instrument = etude.brief.instrument
    low, high = sorted((_midi(old), _midi(new)))
    down = instrument.rise.semitones
    broken = instrument.break_midi is not None and low + down <= instrument.break_midi < high + down
    return old.beats < 1 and (broken or (low, high) in awkward_pairs(instrument))


def _syncopated(etude: Etude) -> Iterator[float]:
    """For each note that sounds, how far it stands against the beat."""
    rests = False
    for note in etude.notes:
        part = note.onset % 1
        if note.pitch is not None:
            held = part > 0 and note.end > note.onset // 1 + 1
            quick = part not in {0, 0.5}
            yield float(held) + float(rests and part > 0) + quick / 2
        rests = note.pitch is None


def _foreign(etude: Etude, note: EtudeNote) -> float:
    """One for a note from outside the scale, and half for one from outside the chord."""
    chord = etude.analysis.chords[note.chord]
    name = _midi(note) % 12
    inside = name in {tone.name.pitch_class for tone in chord.tones}
    return float(name not in chord.scale.pitch_classes) + (0.0 if inside else 0.5)


def difficulties(
    steps: Sequence[Step] = STEPS,
    titles: Sequence[str] = TITLES,
    players: Sequence[str] = PLAYERS[:1],
    seeds: Sequence[int] = SEEDS,
) -> Iterator[tuple[Step, list[list[float]]]]:
    """Each step with the means of its six figures over charts, players and seeds, by level."""
    charts = [played(read_sheet_text(CHARTS[title])) for title in titles]
    analyses = {level: [analyse(chart, level=level) for chart in charts] for level in Level}
    for step in steps:
        rows = []
        for level in Level:
            found = []
            for analysis in analyses[level]:
                for player in players:
                    for seed in seeds:
                        brief = Brief(INSTRUMENTS[player], level, TEMPO_BPM, seed)
                        try:
                            found.append(figures(write_etude(step, analysis, brief)))
                        except BriefError:
                            continue
            rows.append([mean(column) for column in zip(*found, strict=True)])
        yield step, rows


def falls(sums: Mapping[str, Sequence[float]]) -> dict[str, list[Level]]:
    """The steps that are easier than the last one that is not named, with the levels."""
    fallen: dict[str, list[Level]] = {}
    last: Sequence[float] = ()
    for name, values in sums.items():
        if name in APART:
            continue
        pairs = zip(Level, values, last, strict=False)
        levels = [level for level, now, before in pairs if now < before - TOLERANCE]
        fallen |= {name: levels} if levels else {}
        last = values
    return fallen


def easier_levels(sums: Mapping[str, Sequence[float]]) -> list[str]:
    """The steps that are easier for a level than for the one before it."""
    return [
        name
        for name, values in sums.items()
        if any(new < old - TOLERANCE for old, new in pairwise(values))
    ]


def main(players: Sequence[str]) -> None:
    """Print the table."""
    heads = "".join(f"{level.value[:6]:>6}  " for level in Level)
    print(f"{'':21}{heads} advanced: " + " ".join(NAMES))
    sums: dict[str, list[float]] = {}
    for step, rows in difficulties(players=players):
        sums[step.name] = [sum(row) for row in rows]
        fallen = falls(sums).get(step.name, [])
        lower = [new < old for old, new in pairwise(sums[step.name])]
        marks = [
            f"{'<' if easier else ' '}{'v' if level in fallen else ' '}"
            for level, easier in zip(Level, [False, *lower], strict=True)
        ]
        cells = "".join(f"{v:6.2f}{m}" for v, m in zip(sums[step.name], marks, strict=True))
        last = " ".join(f"{value:5.2f}" for value in rows[-1])
        print(f"{step.name:21}{cells}  {last}  {APART.get(step.name, '')}", flush=True)
    print(f"easier than for the level before: {', '.join(easier_levels(sums)) or 'none'}")
    print(f"easier than the step before, without a reason: {', '.join(falls(sums)) or 'none'}")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--all", action="store_true", help="three players")
    main(PLAYERS if parser.parse_args().all else PLAYERS[:1])
