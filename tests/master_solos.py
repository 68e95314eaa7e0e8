"""Solos of good players beside the repository, read where they are, as notes over a chart.

Source: tables of transcribed solos derived by the authors of the jazzodata repository (MIT).
"""

from __future__ import annotations

import gzip
import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import groupby
from pathlib import Path
from typing import Any

import pytest

from halfstep.progression.chart import Chart
from solos import CHORD, translated
from typed_charts import read_chart_text

SOLOS = Path(__file__).resolve().parents[2] / "shared" / "data" / "masters" / "solos.json.gz"
needs_masters = pytest.mark.skipif(not SOLOS.is_file(), reason="the solos of masters are not here")


@dataclass(frozen=True, slots=True)
class MasterSolo:
    """A solo: its number, its tempo, and its notes as (beat, beats, concert MIDI number)."""

    number: int
    tempo_bpm: float
    notes: tuple[tuple[float, float, int], ...]
    chart: Chart


@cache
def master_solos() -> tuple[MasterSolo, ...]:
    """All of them; a chart of one is as long as the solo, in bars of four."""
    data = json.loads(gzip.decompress(SOLOS.read_bytes()))
    return tuple(
        MasterSolo(
            solo["solo"],
            solo["tempo_bpm"],
            tuple((onset, beats, midi) for onset, beats, midi, *_ in solo["notes"]),
            read_chart_text("| " + " | ".join(_bars(solo["notes"])) + " |"),
        )
        for solo in data
    )


def _bars(notes: list[Any]) -> Iterator[str]:
    """The chords of each bar by the beats on which the notes under them begin."""
    chords = {int(note[0]): note[3] for note in reversed(notes)}
    last = max(chords)
    now = next(chords[beat] for beat in sorted(chords))
    cells = []
    for beat in range(4 * (last // 4 + 1)):
        now = chords.get(beat, now)
        cells.append(now)
    for start in range(0, len(cells), 4):
        yield " ".join(
            (translated_chord(chord), *["."] * (len(list(group)) - 1))[n]
            for chord, group in ((c, list(g)) for c, g in groupby(cells[start : start + 4]))
            for n in range(len(group))
        )


def translated_chord(chord: str) -> str:
    match = CHORD.fullmatch(chord)
    return translated(match) if match else "N.C."
