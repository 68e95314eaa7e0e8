"""How long does a film take, and how exact is it? CPU seconds against the length of the film.

    .venv/bin/python bench/film.py [--sync]

The reference is the same encoder given every frame of the film in one go, as a screen recorder
does it, without painting and without sound: what painting scenes and encoding passages once each
is worth. With ``--sync`` a film of five minutes is made and decoded, and how far the mark is from
each onset is told for its first and its last chorus.
"""

from __future__ import annotations

import sys
import tempfile
from fractions import Fraction
from pathlib import Path
from time import process_time
from typing import Any

import av
import numpy as np

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from film_reading import decoded, filmed, request, wedge
from halfstep.render.film_file import FILM, FRAMES_A_SECOND
from halfstep.services.make_film import MakeFilm, make_film

BLUES = (
    "title: Kitchen Window\n| F7 | Bb7 | F7 | Cm7 F7 | Bb7 | Bdim7 | F7 | Am7b5 D7b9 | "
    "Gm7 | C7 | F7 D7 | Gm7 C7 |"
)
CASES: tuple[tuple[str, str, int, dict[str, Any]], ...] = (
    ("720p, 1 chorus", ".mp4", 1, {}),
    ("720p, 3 choruses", ".mp4", 3, {}),
    ("720p, 12 choruses", ".mp4", 12, {}),
    ("1080p, 1 chorus", ".mp4", 1, {"size": "1080p"}),
    ("1080p, 3 choruses", ".mp4", 3, {"size": "1080p"}),
    ("portrait, 3 choruses", ".mp4", 3, {"size": "portrait"}),
    ("overlay .mov, 1 chorus", ".mov", 1, {"overlay": True}),
    ("overlay .mov, 3 choruses", ".mov", 3, {"overlay": True}),
    ("overlay .webm, 3 choruses", ".webm", 3, {"overlay": True}),
)


def asked(choruses: int, **fields: Any) -> MakeFilm:
    return request(BLUES, "one-line", instrument="alto-sax", choruses=choruses, **fields)


def made(folder: Path, suffix: str, choruses: int, fields: dict[str, Any]) -> tuple[float, float]:
    """CPU seconds that a film takes, all of it from the chords on, and its length."""
    begun = process_time()
    reply = make_film(asked(choruses, **fields))
    reply.write(folder / f"film{suffix}")
    return process_time() - begun, reply.film.length_s


def reference(path: Path) -> float:
    """CPU seconds to encode every frame of a film by one encoder."""
    frames = [av.VideoFrame.from_ndarray(p, format="rgb24") for _, p in decoded(path)]
    encoder: Any = av.CodecContext.create("libx264", "w")
    encoder.width, encoder.height, encoder.pix_fmt = frames[0].width, frames[0].height, "yuv420p"
    encoder.time_base, encoder.framerate = Fraction(1, FRAMES_A_SECOND), FRAMES_A_SECOND
    encoder.thread_count, encoder.options = 1, dict(FILM.encoder)
    begun = process_time()
    for number, frame in enumerate(frames):
        given = frame.reformat(format="yuv420p")
        given.pts, given.time_base = number, encoder.time_base
        encoder.encode(given)
    encoder.encode(None)
    return process_time() - begun


def speed(folder: Path) -> None:
    print(f"{'':28}{'film':>8}{'CPU':>8}{'× real time':>13}{'MB':>7}")
    for name, suffix, choruses, fields in CASES:
        cpu_s, length_s = made(folder, suffix, choruses, fields)
        size = (folder / f"film{suffix}").stat().st_size / 1e6
        ratio = length_s / cpu_s
        print(f"{name:28}{length_s:7.1f}s{cpu_s:7.1f}s{ratio:13.1f}{size:7.1f}", flush=True)
        if name == "720p, 1 chorus":
            every_s = reference(folder / "film.mp4")
            print(f"{'  encoder, every frame':36}{every_s:7.1f}s{length_s / every_s:13.1f}")


def sync(folder: Path) -> None:
    """How far the mark is from onsets in a film of five minutes, at its start and at its end."""
    wished = asked(12, tempi="117")
    _, times, pictures = filmed(wished)
    make_film(wished).write(folder / "long.mp4")
    music = pictures.music
    places = {
        head: (box.left + box.right) / 2 for line in music.lines for head, box in line.heads.items()
    }
    changes: list[tuple[float, float]] = []
    last = None
    for time_s, pixels in decoded(folder / "long.mp4"):
        at = wedge(pixels)
        if at and (last is None or abs(at[0] - last[0]) > 2 or abs(at[1] - last[1]) > 2):
            changes.append((time_s, at[0]))
        last = at
    print(f"a film of {times.length_s:.0f} s, half a frame is {500 / FRAMES_A_SECOND:.1f} ms")
    for chorus in (times.choruses[0], times.choruses[-1]):
        heads = [h for h in times.heads if chorus.start_s <= h.start_s < chorus.end_s]
        off_ms = []
        for head in heads:
            x = places[head.bar, head.note]
            near = [t - head.start_s for t, at in changes if abs(at - x) < 4]
            off_ms.append(1000 * min(near, key=abs))
        print(
            f"chorus {chorus.number}: {len(heads)} heads, mark from {min(off_ms):+.1f} to "
            f"{max(off_ms):+.1f} ms, mean {np.mean(off_ms):+.2f}"
        )


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as name:
        (sync if "--sync" in sys.argv else speed)(Path(name))
