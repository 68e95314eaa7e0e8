"""How well are real players heard?

Run ``python bench/players.py DATA [--only NAME ..]``, where DATA holds two folders: `real-lines`,
notes recorded by an orchestra's players and joined into lines, with their truth beside them, and
`sax-phrases`, what a saxophonist played, with no truth. Listeners are ours and the trackers of
`listening.py` that are there.

A phrase is labelled without the ear where its pattern is plain: its notes stand apart, each ten
decibels and more over the dips at its sides, and at least nine of ten follow the last at one
pulse. A note begins where its level has come within 14 dB of its loudest (a fifth of its
amplitude), and its pitch is the period of its middle, by YIN (de Cheveigne and Kawahara 2002).

A note is right when it begins within 50 (or 25) ms and lies within 50 cents of a true one:
F1 of `mir_eval.transcription` (MIT).
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import listening
import numpy as np
import takes

from halfstep.listen.audio import Recording, Stretches
from halfstep.listen.spectra import RATE

STEP = 40
"""Samples between levels, at `RATE`."""
DIP_DB, SOFT_DB, BEGUN_DB, FLOOR_DB = 10.0, 22.0, 14.0, 30.0
"""How deep a dip between notes is; how far a note may lie under the loudest, its beginning
under its own peak, and any sound under the loudest."""
SHORTEST_S = 0.05
FEWEST, STEADY, PULSE = 12, 0.9, 0.15
"""Of a plain phrase: notes, the share of them that follow the pulse, and how nearly."""


@dataclass(slots=True)
class Tally:
    """What was heard of several takes: right within 50 and 25 ms, true, answered, errors."""

    right: int = 0
    nearly: int = 0
    true: int = 0
    answered: int = 0
    onsets_ms: list[float] = field(default_factory=list)

    def add(self, true: list[takes.Note], answers: list[listening.Answer]) -> None:
        score = listening.scored(true, answers)
        self.right += score.right
        self.nearly += sum(abs(error) <= 25 for error in score.onsets_ms)
        self.true, self.answered = self.true + score.true, self.answered + score.answered
        self.onsets_ms += score.onsets_ms

    @property
    def row(self) -> str:
        notes = max(1, self.true + self.answered)
        spread = np.percentile(self.onsets_ms or [np.nan], [5, 50, 95])
        return (
            f"{self.true:5d} {200 * self.right / notes:7.1f} {200 * self.nearly / notes:7.1f}"
            f" {100 * self.right / max(1, self.answered):9.1f}"
            f" {100 * self.right / max(1, self.true):6.1f}"
            f"   {spread[0]:5.0f} {spread[1]:5.0f} {spread[2]:5.0f}"
        )


# --- the truth ---------------------------------------------------------------------------


def true_line(path: Path) -> list[takes.Note]:
    """The notes of a line of real notes."""
    return [
        takes.Note(note["onset_s"], note["offset_s"], note["midi"], "")
        for note in json.loads(path.read_text())
    ]


def labelled(path: Path) -> list[takes.Note]:
    """The notes of a phrase whose pattern is plain, or none."""
    recording = Recording(path)
    sound = np.concatenate(list(recording.blocks()))
    places = _apart(_levels(sound))
    if len(places) < FEWEST:
        return []
    pulses = np.diff([first for first, _ in places])
    steady = np.abs(pulses / np.median(pulses) - 1) < PULSE
    plain = np.mean(steady) >= STEADY
    return [_note(sound, first, end) for first, end in places] if plain else []


def _levels(sound: Any) -> Any:
    """The level of 10 ms around every fortieth sample, in decibels."""
    power = np.concatenate([[0.0], np.cumsum(np.square(sound, dtype=float))])
    middles = np.arange(0, len(sound), STEP)
    low, high = (np.clip(middles + side, 0, len(sound)) for side in (-80, 80))
    return 10 * np.log10((power[high] - power[low]) / np.maximum(high - low, 1) + 1e-12)


def _apart(levels: Any) -> list[tuple[int, int]]:
    """Where notes that stand apart begin and end, in samples."""
    top = float(np.percentile(levels, 95))
    sounding = np.diff(np.r_[0, (levels > top - FLOOR_DB).astype(int), 0])
    edges = np.flatnonzero(sounding)
    found = []
    for first, end in zip(edges[::2], edges[1::2], strict=True):
        for begin, until in _split(levels, int(first), int(end)):
            peak = levels[begin:until].max()
            if peak > top - SOFT_DB and (until - begin) * STEP >= SHORTEST_S * RATE:
                begun = begin + int(np.argmax(levels[begin:until] > peak - BEGUN_DB))
                found.append((begun * STEP, until * STEP))
    return found


def _split(levels: Any, first: int, end: int) -> Iterator[tuple[int, int]]:
    """A sounding stretch, cut at its dips."""
    piece = levels[first:end]
    before = np.maximum.accumulate(piece)
    after = np.maximum.accumulate(piece[::-1])[::-1]
    depth = np.minimum(before, after) - piece
    dip = int(depth.argmax())
    if depth[dip] < DIP_DB:
        yield first, end
        return
    yield from _split(levels, first, first + dip)
    yield from _split(levels, first + dip, end)


def _note(sound: Any, first: int, end: int) -> takes.Note:
    pitches = [period_midi(sound[at : at + 1024]) for at in _middles(first, end)]
    return takes.Note(first / RATE, end / RATE, float(np.median(pitches)), "")


def _middles(first: int, end: int) -> range:
    """Where frames begin in the middle half of a note."""
    quarter = (end - first) // 4
    last = max(first + quarter + 1, end - quarter - 1024)
    return range(first + quarter, last, 400)


def period_midi(frame: Any) -> float:
    """The pitch of a frame of 64 ms by YIN: the first deep dip of its difference from itself."""
    lags = np.arange(1, 320)
    window = len(frame) - 320
    later = np.lib.stride_tricks.sliding_window_view(frame, window)[1:320]
    away = np.sum(np.square(frame[:window] - later), axis=1)
    dips = away * lags / np.maximum(np.cumsum(away), 1e-12)
    deep = np.flatnonzero(dips < 0.15)
    best = int(deep[0]) if len(deep) else int(dips.argmin())
    while best + 1 < len(dips) and dips[best + 1] < dips[best]:
        best += 1
    return 69 + 12 * float(np.log2(RATE / (lags[best] + _between(dips, best)) / 440))


def _between(dips: Any, best: int) -> float:
    """The place of a dip between lags, by a parabola."""
    if not 0 < best < len(dips) - 1:
        return 0.0
    left, middle, right = dips[best - 1 : best + 2]
    return float((left - right) / (2 * (left - 2 * middle + right) + 1e-12))


# --- the run -----------------------------------------------------------------------------


def lines(data: Path) -> Iterator[tuple[str, Path, list[takes.Note]]]:
    """Each line with its instrument and its notes."""
    for path in sorted((data / "real-lines").glob("*.flac")):
        yield path.stem.split("-")[0], path, true_line(path.with_suffix(".json"))


def phrases(data: Path) -> Iterator[tuple[str, Path, list[takes.Note]]]:
    """Each phrase whose pattern is plain, with how it is played and its notes."""
    for path in sorted((data / "sax-phrases").glob("*.mp3")):
        notes = labelled(path)
        if notes:
            yield f"phrase, {path.stem.rsplit('_', 1)[1]}", path, notes


def answers_by(listener: str, path: Path) -> list[listening.Answer]:
    """What a listener hears in a file, which trackers read as a WAV file."""
    if listener == "ours":
        return listening.by_us(path)[0]
    import soundfile

    sound = Stretches(Recording(path)).stretch(0, 60 * RATE)
    with tempfile.TemporaryDirectory() as folder:
        plain = Path(folder) / "take.wav"
        soundfile.write(plain, sound, RATE, subtype="FLOAT")
        return listening.OTHERS[listener][1](plain)


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("data", type=Path)
    parser.add_argument("--only", nargs="+", help="listeners: ours, SwiftF0, pYIN, basic-pitch")
    options = parser.parse_args()
    listening._hush()
    every = [*lines(options.data), *phrases(options.data)]
    for listener in listening.present(options.only):
        if listener == listening.KNOWN:
            continue
        tallies: dict[str, Tally] = defaultdict(Tally)
        for group, path, notes in every:
            answers = answers_by(listener, path)
            for name in (group, "all phrases" if "," in group else "all lines"):
                tallies[name].add(notes, answers)
        print(f"\n{listener:24s} true  F1 50  F1 25 precision recall   onset 5, 50, 95 % in ms")
        for name, tally in tallies.items():
            print(f"{name:24s}{tally.row}")


if __name__ == "__main__":
    main()
