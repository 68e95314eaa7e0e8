"""What does it cost to keep recordings as Opus, and to hear them from that?

    python bench/opus.py               12 lines each of three saxophones, plain and in a room
    python bench/opus.py --lines 3

The lines are made of the shipped sound bank by `takes.py` and heard by ours alone: as they are,
and after Opus (RFC 6716) at several bit rates. A note is right as in `listening.py`. Prints F1
pooled over the notes, its distance to the plain one line by line with a bootstrap's 95 %, and
megabytes a minute.
"""

from __future__ import annotations

import argparse
import tempfile
from pathlib import Path
from typing import Any

import av
import numpy as np
import takes
from listening import CONDITIONS, Line, Score, by_us, scored

from halfstep.render.known_banks import SHIPPED_BANK

HORNS = ("alto-sax", "tenor-sax", "baritone-sax")
HEARD_IN = ("clean", "room RT60 0.6 s, 3 dB")
KBITS = (0, 96, 64, 32, 24)
"""0 is none: what a browser sends."""
FIRST_SEED = 300


def encoded(path: Path, sound: Any, kbits: int) -> Path:
    """A file of a sound; as Opus where a rate is given."""
    import soundfile

    plain = np.clip(sound, -1, 1).astype("f4")
    if not kbits:
        soundfile.write(path.with_suffix(".wav"), plain, takes.RATE, subtype="PCM_16")
        return path.with_suffix(".wav")
    path = path.with_suffix(".ogg")
    with av.open(str(path), "w") as container:
        stream: Any = container.add_stream("libopus", rate=48_000, layout="mono")
        stream.bit_rate = 1000 * kbits
        frame = av.AudioFrame.from_ndarray(plain[None], "fltp", "mono")
        frame.sample_rate = takes.RATE
        resampler = av.AudioResampler("flt", "mono", 48_000, frame_size=960)
        for part in (*resampler.resample(frame), *resampler.resample(None)):
            container.mux(stream.encode(part))
        container.mux(stream.encode(None))
    return path


def main() -> None:
    """Hear each line at each rate, and print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--lines", type=int, default=12)
    options = parser.parse_args()
    scores: dict[int, list[Score]] = {kbits: [] for kbits in KBITS}
    size: dict[int, float] = dict.fromkeys(KBITS, 0.0)
    length_s = 0.0
    with tempfile.TemporaryDirectory() as folder:
        for horn in HORNS:
            for seed in range(FIRST_SEED, FIRST_SEED + options.lines):
                for condition in HEARD_IN:
                    scene = CONDITIONS[condition](Line(SHIPPED_BANK, horn, seed))
                    length_s += len(scene.take.sound) / takes.RATE
                    for kbits in KBITS:
                        path = encoded(Path(folder) / "take", scene.take.sound, kbits)
                        size[kbits] += path.stat().st_size
                        scores[kbits].append(scored(scene.take.notes, by_us(path)[0]))
    notes = sum(score.true for score in scores[0])
    print(f"{len(scores[0])} takes, {notes} notes, {length_s / 60:.0f} minutes")
    print("| kept as | F1 | beside none | MB a minute |")
    for kbits in KBITS:
        name = f"Opus, {kbits} kbit/s" if kbits else "16 bit, as it came"
        whole = Score()
        for score in scores[kbits]:
            whole.add(score)
        minute = size[kbits] / 1e6 / (length_s / 60)
        print(f"| {name} | {whole.f1:.2f} | {apart(scores[0], scores[kbits])} | {minute:.2f} |")


def apart(plain: list[Score], other: list[Score]) -> str:
    """How much less is heard, with what chance leaves open."""
    gaps = np.array([after.f1 - before.f1 for before, after in zip(plain, other, strict=True)])
    draws = np.random.default_rng(1).choice(gaps, (2000, len(gaps))).mean(1)
    low, high = np.quantile(draws, (0.025, 0.975))
    return f"{gaps.mean():+.2f} ({low:+.2f} to {high:+.2f})"


if __name__ == "__main__":
    main()
