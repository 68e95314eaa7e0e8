"""How wrong is the ear, and is what it says of itself true?

Run ``python bench/known_errors.py [--data FOLDER] [--lines N]``. One run hears notes that
players recorded, joined into lines (``real-lines`` of the shared test data, with their true
onsets and pitches), prints onset bias and spread, cents and certainty by instrument, and for
the lines that nothing was chosen on how far what `halfstep.listen.known_errors` states lies
from them. It then plays swung lines at tempos and prints how far the swing heard is off.

What is stated was chosen on the lines numbered 500 and on made-up swing alone; 501 to 503
are the ones to believe.
"""

from __future__ import annotations

import argparse
import json
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import soundfile
import takes

from halfstep.listen.heard_take import HeardNote
from halfstep.listen.known_errors import CERTAINTY_CLASSES, certainty_class, known_errors
from halfstep.listen.transcription import hear
from halfstep.render.known_banks import find_bank

DATA = Path(__file__).resolve().parents[2] / "shared" / "data" / "real-lines"
CALIBRATED = "500"
WITHIN_S, CENTS = 0.1, 60.0
TEMPOS = (100, 130, 150, 180, 220, 260)
SWUNG = 0.64


@dataclass(frozen=True, slots=True)
class Line:
    """A line of real notes, and what was heard of it."""

    instrument: str
    number: str
    truth: list[dict[str, float]]
    notes: tuple[HeardNote, ...]

    def pairs(self) -> Iterator[tuple[dict[str, float], HeardNote]]:
        """True and heard notes that belong together."""
        free = list(self.notes)
        for true in self.truth:
            near = [
                note
                for note in free
                if abs(note.onset_s - true["onset_s"]) < WITHIN_S
                and abs(note.pitch_midi - true["midi"]) * 100 < CENTS
            ]
            if near:
                best = min(near, key=lambda note: abs(note.onset_s - true["onset_s"]))
                free.remove(best)
                yield true, best


def lines_in(folder: Path) -> list[Line]:
    """Every line of a folder, heard."""
    made = []
    for path in sorted(folder.glob("*.flac")):
        instrument, _, number = path.stem.rpartition("-")
        truth = json.loads(path.with_suffix(".json").read_text())
        made.append(Line(instrument, number, truth, hear(path).notes))
    return made


def late_ms(lines: list[Line]) -> np.ndarray:
    """How late each note was heard."""
    pairs = (pair for line in lines for pair in line.pairs())
    return np.array([1000 * (note.onset_s - true["onset_s"]) for true, note in pairs])


def print_onsets(lines: list[Line]) -> None:
    """Bias and spread by instrument, chosen and held back."""
    print(
        f"{'onsets, ms':14}{'lines':>8}{'notes':>7}{'5 %':>8}{'middle':>8}{'95 %':>8}{'stated':>14}"
    )
    groups: dict[tuple[str, bool], list[Line]] = defaultdict(list)
    for line in lines:
        groups[line.instrument, line.number == CALIBRATED].append(line)
    for (instrument, calibrated), group in sorted(groups.items()):
        low, middle, high = np.percentile(late_ms(group), (5, 50, 95))
        errors = known_errors(instrument)
        stated = f"{errors.onset_bias_ms:.0f} ± {errors.onset_spread_ms:.0f}"
        which = "500" if calibrated else "501-503"
        count = sum(len(list(line.pairs())) for line in group)
        print(f"{instrument:14}{which:>8}{count:8}{low:8.1f}{middle:8.1f}{high:8.1f}{stated:>14}")


def print_pitch_and_certainty(lines: list[Line]) -> None:
    """Cents, and the share that is right in each class of certainty."""
    for calibrated in (True, False):
        group = [line for line in lines if (line.number == CALIBRATED) == calibrated]
        cents = [100 * (n.pitch_midi - t["midi"]) for line in group for t, n in line.pairs()]
        print(f"\n{'lines 500' if calibrated else 'lines 501-503'}")
        print(f"  cents: middle {np.median(cents):.1f}, half within {np.median(np.abs(cents)):.1f}")
        right = {id(note) for line in group for _, note in line.pairs()}
        for name, limit in CERTAINTY_CLASSES:
            notes = [
                n for line in group for n in line.notes if certainty_class(n.certainty) == name
            ]
            share = 100 * np.mean([id(note) in right for note in notes]) if notes else float("nan")
            print(f"  {name:8} from {limit:.2f}: {len(notes):4} notes, {share:5.1f} % right")


def print_swing(count: int) -> None:
    """How far the swing ratio heard in a line is off, by tempo."""
    bank = find_bank()
    print(f"\n{'swing':10}{'lines':>6}{'bias':>9}{'sd':>8}{'stated sd':>11}")
    for bpm in TEMPOS:
        errors = [_swing_error(bank, bpm, seed) for seed in range(count)]
        stated = known_errors().swing_sd(bpm)
        print(f"{bpm:4} bpm  {count:6}{np.mean(errors):9.3f}{np.std(errors):8.3f}{stated:11.3f}")


def _swing_error(bank: Path, bpm: float, seed: int) -> float:
    """The swing ratio that is heard in a swung line, less the one that is played."""
    rng = np.random.default_rng(seed)
    name = list(takes.HORNS)[seed % len(takes.HORNS)]
    program, low, high = takes.HORNS[name]
    beat_s = 60 / bpm
    sound = np.zeros(round((17 * beat_s + 1) * takes.RATE))
    pitch = (low + high) // 2
    onsets = [(0.5 + (beat + off) * beat_s, off) for beat in range(16) for off in (0.0, SWUNG)]
    ends = [*(onset_s for onset_s, _ in onsets[1:]), onsets[-1][0] + beat_s]
    for (onset_s, _), next_s in zip(onsets, ends, strict=True):
        pitch = int(np.clip(pitch + rng.choice([-4, -3, -2, -1, 1, 2, 3, 4]), low, high))
        note = takes._alone(bank, program, pitch, next_s - onset_s)
        begin = round((onset_s - takes.rise_s(bank, program, pitch)) * takes.RATE)
        sound[begin : begin + len(note)] += note[: len(sound) - begin]
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "line.wav"
        soundfile.write(path, 0.5 * sound / np.abs(sound).max(), takes.RATE)
        heard_s = np.array([note.onset_s for note in hear(path).notes])
    places: dict[float, list[float]] = defaultdict(list)
    for onset_s, off in onsets:
        nearest = heard_s[np.argmin(np.abs(heard_s - onset_s))]
        if abs(nearest - onset_s) < 0.06:
            places[off].append((nearest - onset_s) / beat_s)
    place = SWUNG + float(np.mean(places[SWUNG]) - np.mean(places[0.0]))
    return place / (1 - place) - SWUNG / (1 - SWUNG)


def main() -> None:
    """Print the tables."""
    parser = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    parser.add_argument("--data", type=Path, default=DATA)
    parser.add_argument("--lines", type=int, default=8, help="swung lines at each tempo")
    options = parser.parse_args()
    if options.data.is_dir():
        lines = lines_in(options.data)
        print_onsets(lines)
        print_pitch_and_certainty(lines)
    else:
        print(f"{options.data} is not here: no real lines are heard")
    print_swing(options.lines)


if __name__ == "__main__":
    main()
