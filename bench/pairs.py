"""Which of two phrases is a master's? Twenty pairs for people to judge by ear.

Run ``python bench/pairs.py FOLDER [--level advanced] [--seed 0]``. Each pair is a phrase of a solo
with an even number, from which nothing was learnt, and the phrase of ours that is nearest to it in
notes and in beats (`masters.choruses`); no solo and no chart comes twice. ``01-a`` and ``01-b``
are sounded alike, so that only the notes tell: one tenor saxophone, one tempo and swing, every
note as loud and held until the next, moved by octaves to one height, over the roots of the chords.
Each is an Ogg Vorbis and a MIDI file. Which is the master's stands in ``key.csv`` alone, for who
asks; give the others the sounds.

Twenty answers by chance are 10 right; 15 or more come by chance to one in 48 (binomial).
"""

from __future__ import annotations

import argparse
import csv
import random
from collections.abc import Iterator, Sequence
from fractions import Fraction
from functools import partial
from itertools import islice
from pathlib import Path

import numpy as np
from masters import choruses
from solo_phrases import MASTERS, Phrase, chart_texts, etude_phrases, solo_phrases

from halfstep.files import write_whole
from halfstep.level import Level
from halfstep.meter import Meter, clock_for
from halfstep.played import PlayedNote, PlayedPart
from halfstep.render.known_banks import SHIPPED_BANK
from halfstep.render.midi_file import midi_bytes
from halfstep.render.sampler import SampledNote, Sampler
from halfstep.render.sound_file import light_ogg
from halfstep.render.soundbank import read_bank

PAIRS, NOTES = 20, (8, 24)
"""How many, and of how many notes a phrase is that can be judged."""
TEMPO_BPM, SWING, HEIGHT_MIDI = 150.0, 1.5, 62
LINE, BASS = 66, 32
"""General MIDI programs, from 0: tenor saxophone and acoustic bass."""
LOUD, SOFT = 96, 64
PEAK = 0.7
"""Of full scale: each sound is raised to it."""


def pairs(ours: Sequence[Phrase], rng: random.Random) -> Iterator[tuple[Phrase, Phrase]]:
    """A master's phrase and ours, as like as can be in notes and in beats."""
    known = [phrase for phrase in solo_phrases(MASTERS, 0) if _fits(phrase)]
    left = [phrase for phrase in ours if _fits(phrase)]
    rng.shuffle(known)
    heard: set[str] = set()
    for phrase in known:
        fresh = [other for other in left if other.source not in heard]
        if phrase.source not in heard and fresh:
            like = min(fresh, key=partial(_unlike, phrase))
            heard |= {phrase.source, like.source}
            yield phrase, like


def _fits(phrase: Phrase) -> bool:
    has_roots = all(note.root is not None for note in phrase.notes)
    return has_roots and NOTES[0] <= len(phrase.notes) <= NOTES[1]


def _unlike(one: Phrase, two: Phrase) -> float:
    beats = [p.notes[-1].onset - p.notes[0].onset for p in (one, two)]
    return abs(len(one.notes) - len(two.notes)) + abs(beats[0] - beats[1])


def sounded(phrase: Phrase) -> tuple[PlayedPart, PlayedPart]:
    """The phrase and the roots under it, from the bar it begins in."""
    first = int(phrase.notes[0].onset // 4) * 4
    onsets = [Fraction(round(24 * (note.onset - first)), 24) for note in phrase.notes]
    ends = [*onsets[1:], onsets[-1] + 1]
    mean = sum(note.midi for note in phrase.notes) / len(phrase.notes)
    octaves = 12 * round((HEIGHT_MIDI - mean) / 12)
    line = [
        PlayedNote(onset, end - onset, note.midi + octaves, LOUD)
        for note, onset, end in zip(phrase.notes, onsets, ends, strict=True)
        if end > onset
    ]
    roots = []
    for half in range(int(onsets[-1] // 2) + 1):
        begun = [n for n, onset in enumerate(onsets) if onset < 2 * half + 2]
        root = phrase.notes[begun[-1] if begun else 0].root or 0
        roots.append(PlayedNote(Fraction(2 * half), Fraction(2), 36 + (root - 4) % 12, SOFT))
    return (
        PlayedPart("line", LINE, False, tuple(line)),
        PlayedPart("bass", BASS, False, tuple(roots)),
    )


def sound_of(parts: Sequence[PlayedPart], sampler: Sampler) -> bytes:
    """Both parts in one Ogg Vorbis file."""
    clock = clock_for(Meter(), TEMPO_BPM, swing=SWING)
    stems = []
    for part in parts:
        strokes = [
            SampledNote(
                round(clock.seconds(note.onset) * sampler.frame_rate),
                note.midi,
                note.velocity,
                clock.seconds(note.onset + note.beats) - clock.seconds(note.onset),
            )
            for note in part.notes
        ]
        stems.append(
            sampler.part(
                sampler.bank.preset(part.program, percussion=False)[0], strokes, rings=False
            )
        )
    mix = np.zeros((max(map(len, stems)), 2), np.float32)
    for stem in stems:
        mix[: len(stem)] += stem
    mix *= PEAK / max(float(np.abs(mix).max()), 1e-6)
    return light_ogg(np.asarray(np.round(mix * 32767), np.int16))


def main(folder: Path, level: Level, seed: int) -> None:
    """Write the pairs and their key."""
    folder.mkdir(parents=True, exist_ok=True)
    written = choruses(chart_texts(MASTERS), level)
    ours = [phrase for name, etude, _ in written for phrase in etude_phrases(etude, name)]
    sampler, rng = Sampler(read_bank(SHIPPED_BANK)), random.Random(seed)
    rows = []
    for number, (master, our) in enumerate(islice(pairs(ours, rng), PAIRS), 1):
        order = [master, our] if rng.random() < 0.5 else [our, master]
        for letter, phrase in zip("ab", order, strict=True):
            parts = sounded(phrase)
            name = f"{number:02}-{letter}"
            write_whole(folder / f"{name}.ogg", sound_of(parts, sampler))
            data = midi_bytes(parts, meter=Meter(), tempo_bpm=TEMPO_BPM, swing=SWING, title=name)
            write_whole(folder / f"{name}.mid", data)
        rows.append((f"{number:02}", "ab"[order.index(master)], master.source, our.source))
    with (folder / "key.csv").open("w", encoding="utf-8", newline="") as file:
        csv.writer(file).writerows([("pair", "master", "solo", "ours"), *rows])
    print(f"{folder}: {len(rows)} pairs; key.csv tells which phrase is a master's")


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("folder", type=Path)
    parser.add_argument("--level", type=Level, default=Level.ADVANCED)
    parser.add_argument("--seed", type=int, default=0)
    options = parser.parse_args()
    main(options.folder, options.level, options.seed)
