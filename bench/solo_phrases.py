"""Phrases of solos and of our choruses, as a judge sees them: onsets, notes, chord roots.

Solos of good players lie beside the repository and are read where they are
(``masters/solos.json.gz`` of the shared data; tables of transcribed solos derived by the
authors of the jazzodata repository, MIT). Nothing of them is copied.

Conventions
-----------
- A phrase of a solo is what the tables call one. A phrase of ours ends where a rest is written.
- Onsets are in beats from the first bar of four beats; how long a note sounds is not looked at,
  since lengths in the tables are as played and ours as written.
- Phrases of fewer than `LEAST` notes are left out on both sides.
"""

from __future__ import annotations

import gzip
import json
import re
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import groupby
from pathlib import Path
from typing import Any, NamedTuple

from halfstep.etude.written_etude import Etude

MASTERS = Path(__file__).resolve().parents[2] / "shared" / "data" / "masters"
LEAST = 4
_LETTERS = {"C": 0, "D": 2, "E": 4, "F": 5, "G": 7, "A": 9, "B": 11}
_SIGNS = {"": 0, "b": -1, "#": 1}


class PhraseNote(NamedTuple):
    """Onset in beats, concert MIDI number, pitch class of the chord's root or None."""

    onset: float
    midi: int
    root: int | None


@dataclass(frozen=True, slots=True)
class Phrase:
    """Notes in order; ``source`` is the solo or the chart, all of which stays in one fold."""

    source: str
    style: str
    is_ours: bool
    notes: tuple[PhraseNote, ...]


def solo_phrases(folder: Path, remainder: int) -> Iterator[Phrase]:
    """Phrases of the solos whose number leaves that remainder when halved."""
    for solo in json.loads(gzip.decompress((folder / "solos.json.gz").read_bytes())):
        if solo["solo"] % 2 != remainder:
            continue
        for _, group in groupby(solo["notes"], key=lambda note: note[4]):
            notes = tuple(PhraseNote(note[0], note[2], _root(note[3])) for note in group)
            if len(notes) >= LEAST:
                yield Phrase(f"solo {solo['solo']}", solo["style"], False, notes)


def _root(chord: str) -> int | None:
    """The root of a chord in the tables' notation; None where there is none."""
    match = re.match(r"([A-G])([b#]?)", "" if chord == "NC" else chord)
    return (_LETTERS[match[1]] + _SIGNS[match[2]]) % 12 if match else None


def chart_texts(folder: Path) -> list[str]:
    """The chord charts that lie beside the solos."""
    texts: list[Any] = json.loads((folder / "charts.json").read_text("utf-8"))
    return [str(text) for text in texts]


def etude_phrases(etude: Etude, source: str) -> Iterator[Phrase]:
    """The phrases of an etude, cut where it rests."""
    chords = etude.analysis.chords
    phrase: list[PhraseNote] = []
    place = 0
    for note in (*etude.notes, None):
        if note is None or note.pitch is None:
            if len(phrase) >= LEAST:
                yield Phrase(source, "ours", True, tuple(phrase))
            phrase = []
            continue
        while place + 1 < len(chords) and chords[place + 1].span.start <= note.onset:
            place += 1
        symbol = chords[place].span.symbol
        root = None if symbol.silent else symbol.root.pitch_class
        phrase.append(PhraseNote(float(note.onset), note.pitch.midi, root))
