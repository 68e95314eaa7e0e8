"""Is the delay of the backing right or unknown, and what does a backing cost that is not there?

Run ``python bench/delay.py [--takes N] [--headphones N] [--seed N] [--form NAME] [--foreign]``.
Backings are files of the program, which say enough of their sound to know a take without it;
``--foreign`` leaves that out. Lines of `takes.py` are
joined to takes, and a band that the program rendered is laid under them: late by −5 to +60 s,
at −10, −20 or −30 dB against the player, every third one in a room, all with noise. Half of
the bands repeat their choruses to the sample, half play each one anew. A delay is right when
it lies within a millisecond of the true one; where the program says that the backing sounds
alike every so many seconds, whole numbers of these are left out. A second table has takes
that began anywhere in the backing.

Takes with headphones have no backing in them, and are heard with and without being told one.
Seeds under 200 were looked at while the figures of `backing_delay` were chosen.
"""

from __future__ import annotations

import os

os.environ |= {f"{library}_NUM_THREADS": "1" for library in ("OPENBLAS", "OMP")}

import argparse
import tempfile
from collections import Counter
from dataclasses import dataclass
from functools import cache
from math import ceil
from pathlib import Path
from statistics import median
from time import process_time
from typing import Any

import av
import numpy as np
import soundfile
import takes

from halfstep.backing import count_in, make_backing
from halfstep.backing.styles import style_for
from halfstep.lesson.sound import with_print
from halfstep.listen.backing_delay import BackingDelay
from halfstep.listen.first_reading import first_reading
from halfstep.listen.sound_print import SoundPrint, read_sound_print
from halfstep.listen.transcription import hear
from halfstep.meter import Clock, Feel
from halfstep.progression.form import played
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.render.known_banks import find_bank
from halfstep.render.mixdown import band_sound
from halfstep.render.sound_facts import SoundFacts
from halfstep.render.sound_file import SOUND_FORMATS, write_sound

RATE = takes.RATE
CHARTS = (
    *takes.BACKINGS,
    "tempo: 112\nfeel: swing\n| Abmaj7 | Fm7 | Bbm7 Eb7 | Cm7b5 F7 | Bbm7 | Eb7 | Ab6 | Eb7 |",
    "tempo: 168\nfeel: straight\n| Em7 | % | Am7 | B7 | Em7 | C7 | F#m7b5 B7 | Em7 |",
    "tempo: 88\nfeel: swing\n| F7 | Bb7 | F7 | F7 | Bb7 | Bdim7 "
    "| F7 | D7 | Gm7 | C7 | F7 D7 | Gm7 C7 |",
)
NO_FACTS = SoundFacts(
    title="Band", part="band", loop_frames=(0, RATE), frame_rate=RATE, choruses=1,
    count_in_beats="0", chords=(), meter="4/4", tempo_bpm=120.0, quarters_a_minute=120.0,
    swing_ratio=1.0, style="",
)  # fmt: skip
LEAKS_DB = (-10, -20, -30)
TOGETHER_S = 12.0
"""How long a take goes on after its backing begins."""


@dataclass(frozen=True, slots=True)
class Band:
    """A backing: its sound, its file, and what the file says of its sound."""

    sound: Any
    path: Path
    sound_print: SoundPrint | None


@dataclass(frozen=True, slots=True)
class DelayScore:
    """What was said of one take."""

    verdict: str
    off_ms: float = 0.0


def band(chart_text: str, path: Path, *, least_s: float, anew: bool, foreign: bool) -> Band:
    """A backing so long at least, each chorus alike or each with its own seed."""
    chart = played(read_sheet_text(chart_text))
    feel = chart.feel or Feel.SWING
    clock = Clock(chart.tempo_bpm or 120.0, 1.0 if feel is Feel.STRAIGHT else 1.7)
    pieces: list[Any] = []
    chorus_s = clock.seconds(chart.beats)
    for seed in range(max(2, ceil(least_s / chorus_s))):
        if pieces and not anew:
            pieces.append(pieces[-1])
            continue
        made = band_sound(
            make_backing(chart, style=style_for(feel), seed=seed),
            count_in=count_in(chart.meter),
            clock=clock,
            count_in_beats=chart.meter.bar_beats,
            beats=chart.beats,
        )
        once = made.mix_once.mean(axis=1) / 32768
        pieces += [once[made.count_in_frames :]] if pieces else np.split(once, [made.loop[0]])
    sound = np.concatenate(pieces)
    samples = np.stack([np.rint(32767 * np.clip(sound, -1, 1)).astype(np.int16)] * 2, axis=1)
    facts = with_print(NO_FACTS, samples)
    write_sound(path, samples, NO_FACTS if foreign else facts)
    return Band(played_back(path), path, None if foreign else read_sound_print(facts.sound_print))


def played_back(path: Path) -> Any:
    """What is heard of a file: a lossy one is not what was written."""
    with av.open(str(path)) as container:
        resampler = av.AudioResampler("fltp", "mono", RATE)
        parts = [part for frame in container.decode(audio=0) for part in resampler.resample(frame)]
    return np.concatenate([part.to_ndarray()[0] for part in parts]).astype(float)


@cache
def line(place: int, seed: int) -> Any:
    sources = [*takes.HORNS, *takes.OTHERS]
    return takes.take(find_bank(), sources[place % len(sources)], seed + place).sound


def joined_lines(rng: np.random.Generator, length_s: float, seed: int) -> Any:
    """Lines one after the other, with rests between."""
    pieces: list[Any] = []
    while sum(map(len, pieces)) < length_s * RATE:
        pieces += [line(int(rng.integers(10)), seed), np.zeros(int(rng.uniform(0.2, 2) * RATE))]
    return np.concatenate(pieces)[: round(length_s * RATE)]


def take_over(
    band: Band, rng: np.random.Generator, *, delay_s: float, leak_db: float, seed: int, room: bool
) -> Any:
    """A take with the band under it."""
    sound = joined_lines(rng, TOGETHER_S + max(0.0, delay_s), seed)
    under = np.zeros(len(sound))
    late = round(delay_s * RATE)
    piece = band.sound[max(0, -late) :][: len(sound) - max(0, late)]
    under[max(0, late) : max(0, late) + len(piece)] = piece
    if room:
        under = takes.in_room(takes.Take("", "", under, ()), 0.5, 3, seed).sound
    gain = 10 ** (leak_db / 20) * np.std(sound) / np.std(band.sound)
    noise = 10 ** (-rng.uniform(20, 45) / 20) * np.std(sound)
    return sound + gain * under + noise * rng.normal(size=len(sound))


def place_of(take: Path, under: Band) -> BackingDelay | None:
    """Where the band lies in the take, as the program finds it in the two files."""
    accompaniment = first_reading(take, under.path, under.sound_print).accompaniment
    return accompaniment and accompaniment.place


def scored(delay: BackingDelay | None, true_s: float) -> DelayScore:
    if delay is None:
        return DelayScore("unknown")
    off_s = delay.delay_s - true_s
    if delay.modulo_s:
        off_s -= delay.modulo_s * round(off_s / delay.modulo_s)
    if abs(off_s) > 0.001:
        return DelayScore("WRONG")
    return DelayScore("in a block" if delay.modulo_s else "found", 1000 * abs(off_s))


def delay_table(bands: list[Band], count: int, seed: int, folder: Path, *, reach: str) -> None:
    """One row for each leak."""
    print(
        f"\n{reach:24}  takes  found  in a block  unknown  WRONG  median and most ms  CPU s per s"
    )
    for leak_db in LEAKS_DB:
        scores, spent_s, length_s = [], 0.0, 0.0
        for place in range(count // len(LEAKS_DB)):
            rng = np.random.default_rng([seed, place, -leak_db])
            under = bands[int(rng.integers(len(bands)))]
            longest_s = len(under.sound) / RATE - TOGETHER_S
            delay_s = rng.uniform(-5, 60) if "60" in reach else -rng.uniform(0, longest_s)
            delay_s = round(delay_s * RATE) / RATE
            sound = take_over(
                under, rng, delay_s=delay_s, leak_db=leak_db, seed=seed, room=place % 3 == 0
            )
            soundfile.write(folder / "take.wav", sound / np.abs(sound).max() / 2, RATE)
            before_s = process_time()
            scores.append(scored(place_of(folder / "take.wav", under), delay_s))
            spent_s += process_time() - before_s
            length_s += len(sound) / RATE
        verdicts = Counter(score.verdict for score in scores)
        sizes = [score.off_ms for score in scores if score.verdict in {"found", "in a block"}]
        print(
            f"backing at {leak_db} dB{'':10} {len(scores):5} {verdicts['found']:6} "
            f"{verdicts['in a block']:11} {verdicts['unknown']:8} {verdicts['WRONG']:6} "
            f"{median(sizes):10.3f} {max(sizes):8.3f} {spent_s / length_s:12.4f}",
            flush=True,
        )


def headphone_table(bands: list[Band], count: int, seed: int, folder: Path) -> None:
    """Takes that have no backing in them, told one."""
    agreements = changed = 0
    costs: list[float] = []
    for place in range(count):
        sound = takes.Take("", "", line(place % 10, seed), ())
        if place % 2:
            sound = takes.in_room(sound, 0.6, 3, seed + place)
        path = folder / "take.wav"
        soundfile.write(path, sound.sound / np.abs(sound.sound).max() / 2, RATE)
        begun_s = process_time()
        alone = hear(path)
        between_s = process_time()
        under = bands[place % len(bands)]
        told = hear(path, backing=under.path, backing_print=under.sound_print)
        costs.append((process_time() - between_s) / (between_s - begun_s))
        agreements += told.delay_s is not None
        changed += told.notes != alone.notes or told.rate_ratio != 1
    print(
        f"\n{count} takes with headphones: {agreements} false agreements, {changed} heard "
        f"otherwise; told a backing a take costs {median(costs):.2f} times as much"
    )


def main() -> None:
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--takes", type=int, default=201)
    parser.add_argument("--headphones", type=int, default=60)
    parser.add_argument("--seed", type=int, default=200)
    parser.add_argument("--form", choices=[*SOUND_FORMATS], default="wav")
    parser.add_argument("--foreign", action="store_true")
    parser.add_argument("--backing-seconds", type=float, default=60.0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        bands = [
            band(
                text,
                folder / f"band-{number}-{anew}.{options.form}",
                least_s=options.backing_seconds,
                anew=anew,
                foreign=options.foreign,
            )
            for number, text in enumerate(CHARTS)
            for anew in (False, True)
        ]
        for reach in ("late by -5 to 60 s", "begun in the middle") if options.takes else ():
            delay_table(bands, options.takes, options.seed, folder, reach=reach)
        if options.headphones:
            headphone_table(bands, options.headphones, options.seed, folder)


if __name__ == "__main__":
    main()
