"""How does a school of two hundred fare that practises at once, and how do workers share a queue?

    python bench/load.py                          three minutes in a file, three on a server
    python bench/load.py --kind file --minutes 1
    python bench/load.py --equal                  on a machine that does other things as well
    python bench/load.py --small                  twelve players and few takes, about a minute

``halfstep serve --workers 0`` and ``halfstep work`` run as anybody runs them. Players open their
week and the room, load the piece and its first sounds, record an item of their plan in pieces of a
second as the page sends them, ask for the notes as it does, send, and look until they are told what
was heard: a piece every two minutes, and a take every ten. Teachers read and answer takes
meanwhile. Then a class sends a file each at once: every second one looks at its page, the others
have sent homework. Last, workers alone do a filled queue, one of them and then two.

Prints for each route the middle and the 95th in a hundred of its answers by the clock of the one
who asked, and how many were no answer; takes a minute, and a minute of processor time; how long
takes waited to be begun; and what two workers do of what one does. Who asks is on the same machine
and takes its share of it. Loopback only.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import random
import re
import signal
import subprocess
import sys
import tempfile
import time
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from dataclasses import dataclass, field
from math import ceil
from pathlib import Path
from typing import Any
from uuid import uuid4

import httpx2
import numpy as np
from planned_takes import RATE, PlannedTake, planned_take, wav

from halfstep.app.tasks.recording_tasks import send_file
from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.app.web.visit import COOKIE
from halfstep.school.classes import add_class, join_class
from halfstep.school.data_folder import DATABASE_VARIABLE
from halfstep.school.database import School
from halfstep.school.devices import begin_device
from halfstep.school.invitations import desk_word, door_secret
from halfstep.school.jobs import Job, JobState, jobs_in_state
from halfstep.school.lanes import SENT_TAKE
from halfstep.school.students import find_student, student_id

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from free_ports import free_port
from postgres_server import postgres_programs, postgres_server

CLASS_SIZE, TEACHERS = 30, 4
INSTRUMENTS = ("alto-sax", "tenor-sax", "flute", "trumpet")
READS_S, TEACHER_READS_S = (2.0, 6.0), (3.0, 8.0)
"""How long somebody looks at a page."""
LOOKS_EVERY_S, PATIENCE_S = 2.0, 300.0
"""How often a page asks again that does not say it, and for how long one waits at most."""
TELLS_EVERY_S = 5.0
TICK_S = os.sysconf("SC_CLK_TCK")


@dataclass(frozen=True, slots=True)
class Size:
    """How much is done.

    Attributes
    ----------
    players : int
    opens_every_s : float
        A player opens a piece so often.
    sends : float
        And sends a take in such a part of the times.
    length_s : float
        Of a take.
    practising_s : float
    at_once : int
        So many send a file at the same moment.
    queue : int
        Takes that workers alone find.
    """

    players: int
    opens_every_s: float
    sends: float
    length_s: float
    practising_s: float
    at_once: int
    queue: int


@dataclass(frozen=True, slots=True)
class Player:
    """Somebody of the school: the name, the word of a device, and what is played."""

    name: str
    word: str
    take: PlannedTake


@dataclass(slots=True)
class Answers:
    """How soon each route answered, and how often it did not."""

    times_ms: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    errors: dict[str, list[str]] = field(default_factory=lambda: defaultdict(list))
    told_s: dict[str, list[float]] = field(default_factory=lambda: defaultdict(list))
    """From sending a take to what was heard in it."""

    def lines(self) -> Iterator[str]:
        """A table."""
        yield "| route | answers | half, ms | 95 %, ms | none |"
        yield "|---|---|---|---|---|"
        for route, times in sorted(self.times_ms.items()):
            half, most = np.quantile(times, [0.5, 0.95])
            lost = len(self.errors[route])
            yield f"| {route} | {len(times)} | {half:.0f} | {most:.0f} | {lost} |"
        for route, words in sorted(self.errors.items()):
            if words:
                yield f"{route}: {len(words)} times no answer, first {words[0]}"


class Browser:
    """Who asks, and takes down how soon it is answered."""

    def __init__(self, address: str, word: str, answers: Answers) -> None:
        self._client = httpx2.AsyncClient(
            base_url=address, cookies={COOKIE: word}, timeout=60, follow_redirects=True
        )
        self._answers = answers

    async def __aenter__(self) -> Browser:
        return self

    async def __aexit__(self, *_: object) -> None:
        await self._client.aclose()

    async def ask(self, method: str, address: str, route: str = "", **sent: Any) -> Any:
        """The answer; None where there was none, or one of an error."""
        name = f"{method} {route or address}"
        begun_s = time.perf_counter()
        try:
            answer = await self._client.request(method, address, **sent)
        except httpx2.HTTPError as error:
            self._answers.errors[name].append(type(error).__name__)
            return None
        self._answers.times_ms[name].append(1000 * (time.perf_counter() - begun_s))
        if answer.status_code >= 400:
            self._answers.errors[name].append(f"{answer.status_code} {answer.text[:100]}")
            return None
        return answer

    async def see_told(self, take: int, kind: str) -> None:
        """Look at the page of a take until it tells what was heard."""
        begun_s = time.perf_counter()
        while time.perf_counter() - begun_s < PATIENCE_S:
            answer = await self.ask("GET", f"/room/takes/{take}/told", "/room/takes/{take}/told")
            if answer is not None and "data-heard" in answer.text:
                self._answers.told_s[kind].append(time.perf_counter() - begun_s)
                return
            if answer is not None and "Not heard" in answer.text:
                self._answers.errors["heard"].append(str(take))
                return
            await asyncio.sleep(every_s(answer))
        self._answers.errors["heard in time"].append(str(take))


def every_s(answer: Any) -> float:
    """How soon a page asks again, as it says itself."""
    said = answer and re.search(r'data-swap-every="([\d.]+)"', answer.text)
    return float(said[1]) if said else LOOKS_EVERY_S


# A school


def filled(school: School, players: int, length_s: float) -> list[Player]:
    """A school of so many in classes of thirty; those of an instrument play the same."""
    names = [f"Player {number + 1}" for number in range(players)]
    for number, name in enumerate(names):
        keep_student(school, AddStudent(name, INSTRUMENTS[number % 4], "intermediate"))
    takes = [planned_take(school, name, length_s)[0] for name in names[: len(INSTRUMENTS)]]
    found = []
    with school.writing() as connection:
        for number, name in enumerate(names):
            if number % CLASS_SIZE == 0:
                room = add_class(connection, f"Room {number // CLASS_SIZE + 1}").number
            join_class(connection, room, name)
            word = begin_device(connection, student_id(connection, name), "a bench")
            found.append(Player(name, word, takes[number % 4]))
    return found


# Who asks


async def pause(chance: random.Random, span_s: tuple[float, float]) -> None:
    await asyncio.sleep(chance.uniform(*span_s))


async def practise(browser: Browser, player: Player, seed: int, size: Size, until_s: float) -> None:
    """Come at some moment, open a piece every so often, and now and then send a take."""
    chance, number = random.Random(seed), 0
    await asyncio.sleep(chance.uniform(0, size.opens_every_s))
    while time.perf_counter() < until_s:
        begun_s, number = time.perf_counter(), number + 1
        await browser.ask("GET", "/week")
        await pause(chance, READS_S)
        await open_piece(browser, player.take.base)
        await pause(chance, READS_S)
        if chance.random() < size.sends:
            await play(browser, player.take, 1000 * seed + number)
        rest_s = begun_s + size.opens_every_s - time.perf_counter()
        await asyncio.sleep(max(0.0, min(rest_s, until_s - time.perf_counter())))


async def play(browser: Browser, take: PlannedTake, seed: int) -> None:
    """Record a take, send it, and read what was heard."""
    number = await record(browser, take, take.of_its_own(seed))
    if number:
        await browser.see_told(number, "practising")
        await browser.ask("GET", f"/my-takes/{number}", "/my-takes/{take}")


async def open_piece(browser: Browser, base: str) -> None:
    """The room, and what it loads."""
    await browser.ask("GET", "/room")
    answer = await browser.ask("GET", f"{base}/piece", "/room/…/piece")
    if answer is None:
        return
    sounds = [("click", {"chorus": "count-in"})]
    first, last = answer.json()["stretches"][0]
    bars = f"{first}-{last}"
    sounds += [(part, {"chorus": "1", "bars": bars}) for part in ("drums", "bass", "chords")]
    for part, asked in sounds:
        await browser.ask("GET", f"{base}/sound/{part}", "/room/…/sound", params=asked)


async def record(browser: Browser, take: PlannedTake, frames: bytes) -> int | None:
    """Send a take as it is played; its number."""
    key = str(uuid4())
    address, route = f"/room/recordings/{key}", "/room/recordings/{key}"
    known = {"key": key, "piece": take.base, "about": take.about}
    if await browser.ask("POST", "/room/recordings", json=known) is None:
        return None
    start_s = time.perf_counter()
    for first in range(0, len(frames), 2 * RATE):
        piece = frames[first : first + 2 * RATE]
        due_s = start_s + (first + len(piece)) / 2 / RATE
        await asyncio.sleep(max(0.0, due_s - time.perf_counter()))
        await browser.ask("PUT", f"{address}?from={first}", route, content=piece)
        await browser.ask("GET", f"{address}/notes?after=0", f"{route}/notes")
    sent = {"frames": len(frames) // 2, "about": {}}
    answer = await browser.ask("POST", f"{address}/end", f"{route}/end", json=sent)
    return answer and answer.json().get("take")


async def teach(browser: Browser, seed: int, classes: int, until_s: float) -> None:
    """Read what teachers read, and answer takes."""
    chance = random.Random(seed)
    while time.perf_counter() < until_s:
        await pause(chance, TEACHER_READS_S)
        await browser.ask("GET", "/desk")
        await pause(chance, TEACHER_READS_S)
        room = chance.randint(1, classes)
        await browser.ask("GET", f"/classes/{room}", "/classes/{class}")
        await pause(chance, TEACHER_READS_S)
        list_of_takes = await browser.ask("GET", "/takes")
        if list_of_takes is None or '<a href="/takes/' not in list_of_takes.text:
            continue
        take = list_of_takes.text.partition('<a href="/takes/')[2].partition('"')[0]
        await browser.ask("GET", f"/takes/{take}", "/takes/{take}")
        await pause(chance, TEACHER_READS_S)
        words = {"words": "Sing bar 2 first."}
        await browser.ask("POST", f"/takes/{take}/words", "/takes/{take}/words", data=words)


async def send_at_once(browsers: Sequence[tuple[Browser, Player]], first_seed: int) -> set[int]:
    """Each sends a file; the numbers of those takes whose page somebody looks at."""
    looked_at = set()

    async def one(number: int, browser: Browser, player: Player) -> None:
        file = wav(player.take.of_its_own(first_seed + number))
        answer = await browser.ask(
            "POST",
            "/room/files",
            data={"piece": player.take.base, "about": json.dumps(player.take.about)},
            files={"take": ("take.wav", file, "audio/wav")},
            headers={"accept": "application/json"},
        )
        if answer is not None and number % 2 == 0:
            take = answer.json()["take"]
            looked_at.add(take)
            await browser.see_told(take, "of a class at once")

    await asyncio.gather(*(one(number, *each) for number, each in enumerate(browsers)))
    return looked_at


# The program


@contextmanager
def program(*arguments: str, address: str) -> Iterator[int]:
    """A command of the program, until the block ends; the number of its process."""
    with subprocess.Popen(
        [sys.executable, "-m", "halfstep", *arguments],
        env=os.environ | {DATABASE_VARIABLE: address},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.DEVNULL,
    ) as process:
        try:
            yield process.pid
        finally:
            process.send_signal(signal.SIGTERM)
            process.wait(60)


def cpu_s(process: int) -> float:
    """Processor time so far of a process and of all that came of it."""
    seconds = 0.0
    for number in family(process):
        with suppress(OSError):
            seconds += sum(map(int, fields_of(number)[11:13])) / TICK_S
    return seconds


def threads(process: int) -> dict[tuple[int, int], tuple[float, float]]:
    """For how long each thread of what came of a process ran, and was kept from running."""
    found = {}
    for number in family(process):
        for file in Path(f"/proc/{number}/task").glob("*/schedstat"):
            with suppress(OSError):
                ran, kept, _ = map(int, file.read_text().split())
                found[number, int(file.parent.name)] = (ran / 1e9, kept / 1e9)
    return found


def kept_s(begun: Moment, ended: Moment) -> float:
    """For how long others kept from running what worked most in each process in between."""
    most: dict[int, tuple[float, float]] = {}
    for (number, thread), (ran_s, waited_s) in ended.threads.items():
        before = begun.threads.get((number, thread), (0.0, 0.0))
        spent = (ran_s - before[0], waited_s - before[1])
        most[number] = max(most.get(number, spent), spent)
    return sum(waited_s for _, waited_s in most.values())


def family(process: int) -> list[int]:
    """The number of a process, and of those that came of it and are there."""
    parents = {}
    for stat in Path("/proc").glob("[0-9]*/stat"):
        with suppress(OSError):
            number = int(stat.parent.name)
            parents[number] = int(fields_of(number)[1])
    found = [process]
    for parent in found:
        found += [number for number, its in parents.items() if its == parent]
    return found


def fields_of(number: int) -> list[str]:
    """What the system tells of a process, from its state on."""
    return Path(f"/proc/{number}/stat").read_text().rpartition(")")[2].split()


def hearings(school: School, *states: JobState) -> list[Job]:
    """The jobs that hear takes, and stand so."""
    with school.reading() as connection:
        return [job for job in jobs_in_state(connection, *states) if job.kind == SENT_TAKE]


def until_heard(school: School, what: str) -> None:
    """Wait until nothing is left to be heard."""
    while left := hearings(school, JobState.WAITING, JobState.RUNNING):
        print(f"\r{len(left)} left {what} ", end="", file=sys.stderr)
        time.sleep(0.5)


def wait_until_answered(address: str) -> None:
    """Wait until the pages are there."""
    while True:
        with suppress(httpx2.HTTPError):
            if httpx2.get(f"{address}/ready").status_code == 200:
                return
        time.sleep(0.2)


# What is measured


def practised(
    folder: Path, database: str, size: Size, workers: int, *, equal: bool
) -> Iterator[str]:
    """A school that practises, and a class that sends at once."""
    with School(folder, database) as school:
        players = filled(school, size.players, size.length_s)
        word, port = desk_word(door_secret(school.files)), free_port()
        data, address = ("--data", str(folder)), f"http://127.0.0.1:{port}"
        pages = ("serve", "--workers", "0", "--no-browser", "--port", str(port), *data)
        hearers = ("work", "--workers", str(workers), *data)
        answers = Answers()
        with (
            program(*pages, address=database) as serve,
            program(*hearers, address=database) as work,
        ):
            wait_until_answered(address)
            warm(school, players[-1], work, equal=equal)
            serve_s, work_s, begun_s = cpu_s(serve), cpu_s(work), time.perf_counter()
            asyncio.run(practising(address, word, players, answers, size))
            until_heard(school, "of the practising")
            all_s = time.perf_counter() - begun_s
            serve_s, work_s = cpu_s(serve) - serve_s, cpu_s(work) - work_s
            heard = hearings(school, JobState.DONE)[1:]
            looked_at = asyncio.run(at_once(address, players[: size.at_once], answers))
            until_heard(school, "of the class")
        together = hearings(school, JobState.DONE)[1 + len(heard) :]
        failed = hearings(school, JobState.FAILED)
    yield from answers.lines()
    yield (
        f"{len(heard)} takes of {size.length_s:.0f} s in {all_s:.0f} s, {workers} workers: "
        f"{60 * len(heard) / work_s:.0f} a minute of the workers' processor time, which was "
        f"{work_s:.0f} s; pages and the ear took {serve_s:.0f} s"
    )
    yield f"begun after, practising: {waits(heard)}"
    for kind, times in answers.told_s.items():
        yield f"told what was heard, {kind}: {spread(times)}"
    first = [job for job in together if int(job.belongs_to.split()[1]) in looked_at]
    later = [job for job in together if job not in first]
    yield f"{len(together)} at once, begun after: who looks {waits(first)}; homework {waits(later)}"
    yield f"{len(failed)} takes could not be heard"


def warm(school: School, player: Player, work: int, *, equal: bool) -> None:
    """Have a take heard that is not counted, so that the workers have loaded what they need."""
    queue_take(school, player, 0)
    while hearings(school, JobState.WAITING, JobState.RUNNING):
        if equal:
            stand_equal(work)
        time.sleep(0.5)
    before_s = -1.0
    while cpu_s(work) - before_s > 0.3:
        before_s = cpu_s(work)
        time.sleep(2.0)


async def practising(
    address: str, desk: str, players: Sequence[Player], answers: Answers, size: Size
) -> None:
    """Players and teachers, for a while."""
    until_s = time.perf_counter() + size.practising_s
    async with asyncio.TaskGroup() as group:
        for seed, player in enumerate(players):
            browser = Browser(address, player.word, answers)
            group.create_task(practise(browser, player, seed + 1, size, until_s))
        for seed in range(TEACHERS):
            classes = ceil(size.players / CLASS_SIZE)
            group.create_task(teach(Browser(address, desk, answers), seed, classes, until_s))


async def at_once(address: str, players: Sequence[Player], answers: Answers) -> set[int]:
    """A class that sends at the same moment."""
    browsers = [(Browser(address, player.word, answers), player) for player in players]
    return await send_at_once(browsers, 10_000)


def queue_take(school: School, player: Player, seed: int) -> None:
    """Have a take of somebody wait, as a file that was sent."""
    with school.reading() as connection:
        student = find_student(connection, player.name)
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "take.wav"
        file.write_bytes(wav(player.take.of_its_own(seed)))
        send_file(school, student, file, about=player.take.about)


@dataclass(frozen=True, slots=True)
class Moment:
    """How far workers are.

    Attributes
    ----------
    at_s, cpu_s : float
        By the clock, and their processor time.
    threads : dict
        As `threads` tells.
    done : int
    """

    at_s: float
    cpu_s: float
    threads: dict[tuple[int, int], tuple[float, float]]
    done: int


def alone(folder: Path, database: str, size: Size) -> Iterator[str]:
    """One worker and then two, on as many takes for each of them.

    What a worker does first is not counted, for it loads what it needs, nor when one of them has
    nothing left to do. They do not stand back behind who is at the machine, as they do else, and
    the time is left out in which others kept them from running.
    """
    rates = []
    with School(folder, database) as school:
        players = filled(school, len(INSTRUMENTS), size.length_s)
        for workers in (1, 2):
            known = len(hearings(school, JobState.DONE))
            for number in range(workers * size.queue):
                queue_take(school, players[number % len(players)], 1000 * workers + number)
            data = ("work", "--workers", str(workers), "--data", str(folder))
            with program(*data, address=database) as work:
                begun = when_all_have_begun(school, known, workers, work)
                ended = when_none_waits(school, work)
                until_heard(school, f"with {workers}")
            clock_s = ended.at_s - begun.at_s
            takes = ended.done - begun.done
            rates.append(60 * takes / (clock_s - kept_s(begun, ended) / workers))
            yield (
                f"{workers} alone: {rates[-1]:.1f} takes a minute where nobody else is there, "
                f"{60 * takes / clock_s:.1f} by the clock; {takes} takes, each "
                f"{(ended.cpu_s - begun.cpu_s) / takes:.2f} s of processor time"
            )
    yield f"two do {rates[1] / rates[0]:.2f} times what one does"


def when_all_have_begun(school: School, known: int, workers: int, work: int) -> Moment:
    """When each of so many workers has done something."""
    while len({job.worker for job in hearings(school, JobState.DONE)[known:]}) < workers:
        stand_equal(work)
        time.sleep(0.05)
    return moment(school, work)


def stand_equal(work: int) -> None:
    """Have workers stand back behind nobody who is at the machine; the administrator may."""
    for number in family(work):
        for thread in Path(f"/proc/{number}/task").glob("*"):
            with suppress(OSError):
                os.setpriority(os.PRIO_PROCESS, int(thread.name), 0)


def when_none_waits(school: School, work: int) -> Moment:
    """When each worker has its last take."""
    while hearings(school, JobState.WAITING):
        time.sleep(0.05)
    return moment(school, work)


def moment(school: School, work: int) -> Moment:
    """How far workers are now."""
    done = len(hearings(school, JobState.DONE))
    return Moment(time.perf_counter(), cpu_s(work), threads(work), done)


def waits(jobs: Iterable[Job]) -> str:
    """How long jobs waited to be begun."""
    return spread(
        [(job.started_at - job.added_at).total_seconds() for job in jobs if job.started_at]
    )


def spread(seconds: Sequence[float]) -> str:
    if not seconds:
        return "none"
    half, most = np.quantile(seconds, [0.5, 0.95])
    return f"half {half:.1f}, 95 % {most:.1f}, longest {max(seconds):.1f} s ({len(seconds)})"


@contextmanager
def database_of(kind: str) -> Iterator[list[str]]:
    """The addresses of two databases."""
    if kind == "file":
        yield ["", ""]
        return
    programs = postgres_programs()
    if programs is None:
        sys.exit("no PostgreSQL is installed (Debian: postgresql)")
    with postgres_server(programs) as server:
        yield [server.new_database("practising"), server.new_database("alone")]


def main() -> None:
    """Measure each kind."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--kind", choices=("file", "server"))
    parser.add_argument("--minutes", type=float, default=3.0)
    parser.add_argument("--players", type=int, default=200)
    parser.add_argument("--workers", type=int, default=1)
    parser.add_argument("--queue", type=int, default=16)
    parser.add_argument("--only", choices=("practising", "alone"))
    parser.add_argument(
        "--equal", action="store_true", help="workers stand back behind nobody on a busy machine"
    )
    parser.add_argument("--small", action="store_true")
    asked = parser.parse_args()
    size = Size(asked.players, 120.0, 0.2, 30.0, 60 * asked.minutes, CLASS_SIZE, asked.queue)
    kinds = [asked.kind] if asked.kind else ["file", "server"]
    if asked.small:
        size, kinds = Size(12, 6.0, 0.3, 5.0, 10.0, 4, 4), [asked.kind or "file"]
    for kind in kinds:
        print(f"rows in a {kind}; load of the machine before: {os.getloadavg()[0]:.1f}")
        with database_of(kind) as databases, tempfile.TemporaryDirectory() as name:
            if asked.only != "alone":
                place = Path(name, "practising")
                for line in practised(place, databases[0], size, asked.workers, equal=asked.equal):
                    print(line, flush=True)
            if asked.only != "practising":
                for line in alone(Path(name, "alone"), databases[1], size):
                    print(line, flush=True)
        print()


if __name__ == "__main__":
    main()
