"""How soon after the last note does a player of the practice room know what was heard?

    python bench/live.py                  a take of a minute, at the pace at which it is played
    python bench/live.py --pace 4         four times as fast
    python bench/live.py --length 180
    python bench/live.py --loudspeaker    the band in the take, and the chirps about it

Runs ``halfstep serve`` with its workers and its ear as anybody does, records a take in pieces of a
second as the page sends them, sends it, and then sends the same take as a file. Prints how late
each note appeared while it was played, and for each stage from the last piece on: seconds by the
clock, their share of the take's length, and the CPU seconds of the workers so far, which is what a
busy machine leaves comparable. The file is what the same take needs where nobody listened before.
"""

from __future__ import annotations

import argparse
import json
import re
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from statistics import median
from time import perf_counter, sleep
from typing import Any
from uuid import uuid4

import httpx2
import numpy as np
import soundfile
from planned_takes import BEGUN_AT, LEAD_S, RATE, PlannedTake, planned_take, wav

from halfstep.app.web.visit import COOKIE
from halfstep.data.about_json import read_about
from halfstep.listen.chirps import chirp
from halfstep.school.database import School
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.room_band import room_band

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))
sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests" / "web"))

from desks import Desk, fill_class

NAME = "Ansel"
CHIRP_LEAD_S, CHIRP_TAIL_S, CHIRP_REST_S = 0.6, 0.5, 1.25
"""As the page has them."""
DELAY_S, BAND_OF_PLAYER, CHIRP_OF_FULL = 0.08, 0.25, 0.5
"""Of a take over a loudspeaker: how late it is, and how loud band and chirps are in it."""
ROOM_AIM_S, FILE_AIM_S = 2.0, 6.0
LOOKS_EVERY_S, PATIENCE_S = 0.1, 120.0
LEAST_WARM_S, STILL_S, AT_REST_S = 1.0, 5.0, 0.2
WORKER, EAR = "job_process", "ear_process"


def over_loudspeaker(take: PlannedTake, etude: EtudeReply, folder: Path) -> PlannedTake:
    """The same with its band, all of it late as devices are, and a chirp at either end."""
    about = take.about | {"headphones": False, "parts": ["drums", "bass", "chords"]}
    about["last_beat_at"] = about["first_beat_at"] + take.length_s
    band = room_band(etude.file(".json").data.decode(), read_about(about), folder)
    assert band is not None
    assert band.start_s is not None
    first_s = CHIRP_LEAD_S + band.start_s
    last_s = take.length_s - CHIRP_TAIL_S - CHIRP_REST_S
    chirps_s = (0.0, last_s + CHIRP_TAIL_S)
    samples, rate = soundfile.read(band.path)
    places_s = np.arange(len(take.frames) // 2) / RATE - DELAY_S
    player = _at(places_s - first_s + LEAD_S, np.frombuffer(take.frames, dtype=np.int16), RATE)
    under = _at(places_s - first_s + band.start_s, samples, rate)
    under *= BAND_OF_PLAYER * np.sqrt(np.mean(player**2) / np.mean(under**2))
    sound = np.where(places_s < last_s, player + under, 0.0)
    for at_s in chirps_s:
        sound += _at(places_s - at_s, CHIRP_OF_FULL * 32768 * chirp(RATE), RATE)
    about |= {
        "first_beat_at": BEGUN_AT + first_s, "last_beat_at": BEGUN_AT + last_s,
        "chirps_at": [BEGUN_AT + at_s for at_s in chirps_s],
    }  # fmt: skip
    frames = np.int16(np.clip(sound, -32768, 32767)).tobytes()
    return replace(take, frames=frames, about=about)


def _at(places_s: Any, samples: Any, rate: int) -> Any:
    """A sound at some of its seconds, silent before and after."""
    return np.interp(places_s * rate, np.arange(len(samples)), samples, left=0.0, right=0.0)


def played_take(school: School, length_s: float, *, is_loud: bool) -> PlannedTake:
    """The first item of today's plan, played over and over for so long."""
    take, etude = planned_take(school, NAME, length_s)
    if not is_loud:
        return take
    with tempfile.TemporaryDirectory() as folder:
        return over_loudspeaker(take, etude, Path(folder))


@contextmanager
def served(folder: Path) -> Iterator[tuple[str, int]]:
    """The address of a site, and the number of its process."""
    command = [sys.executable, "-m", "halfstep", "serve", "--no-browser", "--port", "0"]
    with subprocess.Popen(
        [*command, "--data", str(folder)], stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout
            line = process.stdout.readline()
            yield re.search(r"http://[^/]+", line)[0], process.pid  # type: ignore[index]
        finally:
            process.terminate()


def cpu_s(server: int, module: str) -> float:
    """CPU time so far of the processes beside the page that run a module."""
    seconds = 0.0
    for stat in Path("/proc").glob("[0-9]*/stat"):
        try:
            fields = stat.read_text().rpartition(")")[2].split()
            command = (stat.parent / "cmdline").read_text()
        except OSError:
            continue
        if int(fields[1]) == server and module in command:
            seconds += (int(fields[11]) + int(fields[12])) / 100
    return seconds


def wait_warm(server: int) -> None:
    """Wait until the workers and the ear have loaded what they need, and rest."""
    before_s, seconds = -1.0, 0.0
    while seconds < LEAST_WARM_S or seconds > before_s + AT_REST_S:
        sleep(STILL_S)
        before_s, seconds = seconds, cpu_s(server, WORKER) + cpu_s(server, EAR)


def wait(what: Callable[[], bool]) -> None:
    """Wait until something is so."""
    start_s = perf_counter()
    while not what():
        if perf_counter() - start_s > PATIENCE_S:
            raise SystemExit("it does not come to an end")
        sleep(LOOKS_EVERY_S)


def record(player: httpx2.Client, take: PlannedTake, pace: float, lates_s: list[float]) -> str:
    """Send a take as it is played; returns its address, its last piece sent."""
    key = str(uuid4())
    address = f"/room/recordings/{key}"
    sent = {"key": key, "piece": take.base, "about": take.about}
    player.post("/room/recordings", json=sent).raise_for_status()
    start_s, told = perf_counter(), 0
    for first in range(0, len(take.frames), 2 * RATE):
        piece = take.frames[first : first + 2 * RATE]
        due_s = (first + len(piece)) / 2 / RATE / pace
        sleep(max(0.0, start_s + due_s - perf_counter()))
        player.put(f"{address}?from={first}", content=piece).raise_for_status()
        notes = player.get(f"{address}/notes?after={told}").json()["notes"]
        told += len(notes)
        lates_s += [(perf_counter() - start_s) * pace - note["at_s"] for note in notes]
    return address


def is_told(player: httpx2.Client, take: int) -> bool:
    """Whether the room tells what was heard."""
    text = player.get(f"/room/takes/{take}/told").text
    if "Not heard" in text:
        raise SystemExit("the take cannot be heard")
    return "being heard" not in text and "<h3>" in text


def is_whole(player: httpx2.Client, take: int) -> bool:
    return player.get(f"/takes/{take}/files/feedback.pdf").status_code == 200


@dataclass(slots=True)
class Clock:
    """What has passed since a take was sent."""

    take: PlannedTake
    server: int
    start_s: float = field(default_factory=perf_counter)
    before_s: float = 0.0

    def __post_init__(self) -> None:
        self.before_s = cpu_s(self.server, WORKER)

    def print(self, what: str, aim_s: float | None = None) -> None:
        seconds, cpu = perf_counter() - self.start_s, cpu_s(self.server, WORKER) - self.before_s
        share = 100 * seconds / self.take.length_s
        aim = "" if aim_s is None else f"   aim {aim_s:g} s"
        print(f"{what:44} {seconds:6.2f} s {share:6.1f} % {cpu:6.2f} CPU s{aim}", flush=True)


def measured_in_the_room(
    player: httpx2.Client, take: PlannedTake, pace: float, server: int
) -> None:
    """A take that is recorded in the room."""
    lates_s: list[float] = []
    before_s = cpu_s(server, EAR)
    address = record(player, take, pace, lates_s)
    clock = Clock(take, server)
    sent = {"frames": len(take.frames) // 2, "about": {}}
    number = player.post(f"{address}/end", json=sent).raise_for_status().json()["take"]
    clock.print("recorded in the room: it is kept")
    followed(player, number, clock, told_aim_s=ROOM_AIM_S)
    print(f"the ear took {cpu_s(server, EAR) - before_s:.1f} CPU s while it was played")
    if lates_s:
        late = f"{median(lates_s):.1f} s in the middle, {max(lates_s):.1f} s at most"
        print(f"{len(lates_s)} notes appeared while it was played, {late} after they began")


def followed(
    player: httpx2.Client,
    number: int,
    clock: Clock,
    *,
    told_aim_s: float | None = None,
) -> None:
    """Wait for all that is told of a take, and print when it came."""
    wait(lambda: is_told(player, number))
    clock.print("... what was heard is told", told_aim_s)
    wait(lambda: is_whole(player, number))
    clock.print("... its pages, pictures and sounds stand")


def measured_as_file(player: httpx2.Client, take: PlannedTake, server: int) -> None:
    """The same take as a file of the phone's own recorder."""
    clock = Clock(take, server)
    answer = player.post(
        "/room/files",
        data={"piece": take.base, "about": json.dumps(take.about)},
        files={"take": ("take.wav", wav(take.frames), "audio/wav")},
        headers={"accept": "application/json"},
    )
    number = answer.raise_for_status().json()["take"]
    clock.print("sent as a file: it is kept")
    followed(player, number, clock, told_aim_s=FILE_AIM_S)


def main(length_s: float, pace: float, folder: Path, *, is_loud: bool) -> None:
    """Print all of it."""
    with School(folder) as school:
        fill_class(Desk(school), [(NAME, "alto-sax")])
        take = played_take(school, length_s, is_loud=is_loud)
        cookies = {COOKIE: Desk(school).players_word(NAME)}
    with served(folder) as (address, server), httpx2.Client(base_url=address) as player:
        player.cookies.update(cookies)
        wait_warm(server)
        print(f"a take of {take.length_s:.0f} s")
        measured_in_the_room(player, take, pace, server)
        measured_as_file(player, take, server)


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--length", type=float, default=60.0)
    parser.add_argument("--pace", type=float, default=1.0)
    parser.add_argument("--loudspeaker", action="store_true")
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        main(options.length, options.pace, Path(made), is_loud=options.loudspeaker)
