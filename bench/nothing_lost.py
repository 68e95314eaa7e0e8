"""Is everything that was acknowledged there, once, though all that can fail does?

    python bench/nothing_lost.py                       200 takes, in a file and on a server
    python bench/nothing_lost.py --takes 40 --kind file

Eight players send recordings to ``halfstep serve`` and send again until each is acknowledged. While
they do, processes that serve and processes that do jobs are killed at random, the database goes
away for ten seconds (in a file another program holds it; a server is stopped as if the power were
cut, and killed again in the midst of its recovery), the disk is full for some seconds (where a file
system of its own can be made for it, as root), and one take ends whichever process hears it. Then
all is left in peace, and every acknowledged take is looked for: there once, whole, with feedback or
with a stated reason.

Prints what was done, the counts, and the longest that a job waited for a worker that was killed.
PostgreSQL as Debian has it is needed for the second kind. Loopback only.
"""

from __future__ import annotations

import argparse
import os
import random
import signal
import sqlite3
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing, contextmanager, suppress
from dataclasses import dataclass, field
from functools import partial
from hashlib import sha256
from io import BytesIO
from itertools import count
from pathlib import Path
from threading import Event, Lock, Thread
from typing import Protocol

import httpx2
import numpy as np
import soundfile

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from free_ports import free_port
from halfstep.app.tasks.handing_tasks import GiveLesson, give_lesson
from halfstep.app.tasks.heard_take_tasks import BELONGING
from halfstep.app.tasks.job_work import Workplace, work_once
from halfstep.app.tasks.student_tasks import AddStudent, keep_student
from halfstep.errors import StoreError
from halfstep.listen.audio import Recording
from halfstep.listen.spectra import RATE as HEARD_RATE
from halfstep.school.classes import add_class, join_class
from halfstep.school.data_folder import DATABASE_FILE, DATABASE_VARIABLE
from halfstep.school.database import School
from halfstep.school.devices import begin_device
from halfstep.school.jobs import Job, JobState, jobs_in_state
from halfstep.school.sent_takes import every_sent_take
from halfstep.school.students import student_id
from halfstep.services.make_lesson import MakeLesson
from postgres_server import PostgresServer, postgres_programs, postgres_server

PLAYERS = ("Ansel", "Beryl", "Corin", "Dilys", "Emrys", "Fenna", "Galen", "Hesper")
CHART = "| Gm7 | C7 |"
TEMPO_BPM = 240.0
GONE_S = 10.0
"""So long the database is away."""
FULL_S = 4.0
DISK_MB = 400
"""Of the file system that is filled."""
TAKES_A_KILL, MOST_KILLS = 10, 20
"""Of what serves or works; one so often, and no more of them."""
KILLED_AT_WORK = 0.2
"""Of the times that a job is begun."""
TELLS_EVERY_S = 5.0
POISONED = 1
"""The number of the take that ends who hears it."""
QUIET_S = 600.0
"""Within so long after the last fault all must have ended."""


class Database(Protocol):
    """Where rows are kept, and how it goes away."""

    address: str

    def go_away(self) -> None:
        """Be gone for ten seconds, and come back."""


class InAFile:
    """SQLite: another program holds it."""

    address = ""

    def __init__(self, folder: Path) -> None:
        self._file = folder / DATABASE_FILE

    def go_away(self) -> None:
        with closing(sqlite3.connect(self._file, isolation_level=None, timeout=60)) as other:
            other.execute("BEGIN EXCLUSIVE")
            time.sleep(GONE_S)
            other.execute("ROLLBACK")


class OnAServer:
    """PostgreSQL: the power is cut, and cut again while it recovers."""

    def __init__(self, server: PostgresServer) -> None:
        self._server = server
        self.address = server.new_database("school")

    def go_away(self) -> None:
        self._server.stop()
        time.sleep(GONE_S / 2)
        self._server.begin_to_start()
        time.sleep(0.15)
        self._server.kill()
        time.sleep(GONE_S / 2)
        self._server.start()


@contextmanager
def place_of(folder: Path) -> Iterator[tuple[Path, bool]]:
    """Where a school may lie, and whether its disk can be filled."""
    disk = folder / "disk"
    disk.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", f"size={DISK_MB}m", "tmpfs", str(disk)]
    is_apart = subprocess.run(mount, check=False, capture_output=True).returncode == 0
    try:
        yield disk, is_apart
    finally:
        if is_apart:
            subprocess.run(["umount", "-l", str(disk)], check=False)


@dataclass(slots=True)
class Program:
    """A command that is started again whenever it is gone."""

    command: tuple[str, ...]
    environment: dict[str, str]
    address: str = ""
    process: subprocess.Popen[bytes] | None = None
    kills: int = 0
    renewals: int = 0

    def keep_up(self) -> None:
        if self.process is None or self.process.poll() is not None:
            self.process = subprocess.Popen(
                [sys.executable, "-m", "halfstep", *self.command],
                env=self.environment,
                stdin=subprocess.DEVNULL,
                stdout=subprocess.DEVNULL,
                stderr=subprocess.DEVNULL,
            )

    def kill(self) -> None:
        process = self.process  # another may stand there before this one's end is seen
        if process and process.poll() is None:
            process.kill()
            process.wait()
            self.kills += 1

    def stop(self) -> None:
        process = self.process
        if process and process.poll() is None:
            process.send_signal(signal.SIGTERM)
            process.wait(60)

    def renew(self) -> None:
        self.stop()
        self.renewals += 1


def worker_processes(folder: Path) -> dict[str, int]:
    """The processes that do the jobs of a folder, by the names of the workers."""
    workers = {}
    for entry in Path("/proc").iterdir():
        if entry.name.isdecimal():
            with suppress(OSError, ValueError):
                words = (entry / "cmdline").read_bytes().decode(errors="replace").split("\0")
                place = words.index("halfstep.app.job_process")
                if words[place + 1] == str(folder.resolve()):
                    workers[words[place + 2]] = int(entry.name)
    return workers


@dataclass(frozen=True, slots=True)
class Manner:
    """What is done to a school while how many players send how many takes.

    Attributes
    ----------
    troubles : tuple of callable
        Told the trial and its programs; all are begun at once.
    players : int
    rest_s : float
        Between two takes of a player.
    pairs : int
        So many programs serve, and as many do jobs.
    workers_beside : int
        Of each that serves.
    """

    troubles: tuple[Callable[[Trial, dict[str, Program]], None], ...]
    players: int = len(PLAYERS)
    rest_s: float = 0.0
    pairs: int = 1
    workers_beside: int = 1


@dataclass(slots=True)
class Trial:
    """One kind of database, and what was done to it."""

    folder: Path
    database: Database
    can_fill: bool
    takes: int
    seed: int
    manner: Manner
    done: Counter[str] = field(default_factory=Counter)
    sent: dict[str, str] = field(default_factory=dict)
    """Digests of what was acknowledged, and by whom it was sent."""
    left: dict[int, tuple[float, int]] = field(default_factory=dict)
    """Jobs whose worker was killed: when, and how often they had been begun."""
    waits_s: list[float] = field(default_factory=list)
    """How long each of them waited for another worker."""
    story: str = ""
    faults: int = 0
    peace: Event = field(default_factory=Event)
    changing: Lock = field(default_factory=Lock)

    def school(self) -> School:
        return School(self.folder, self.database.address)


def prepared(trial: Trial) -> tuple[int, dict[str, str], np.ndarray]:
    """A class with something handed out: its number, a word for each player, and how it sounds."""
    with trial.school() as school:
        numbers, words = [], {}
        for name in PLAYERS[: trial.manner.players]:
            keep_student(school, AddStudent(name, "alto-sax", "beginner"))
            with school.writing() as connection:
                number = student_id(connection, name)
                words[name] = begin_device(connection, number, "a bench")
            numbers.append(number)
        lesson = MakeLesson(CHART, Path("lesson"), steps="arpeggio", tempo_bpm=TEMPO_BPM)
        with school.writing() as connection:
            room = add_class(connection, "Room Twelve").number
            for name in words:
                join_class(connection, room, name)
        hand_out = give_lesson(
            school, GiveLesson(lesson=lesson, title="Two Roads", class_number=room)
        )
        while work_once(Workplace(school, "preparing")):
            pass
        sound = next((school.folder / "made").rglob("step-1*.m4a"))
    return hand_out, words, np.concatenate(list(Recording(sound).blocks()))


def recording(sound: np.ndarray, number: int) -> bytes:
    """A take that is like no other: a little noise of its own."""
    noise = np.random.default_rng(number).normal(0, 1e-3, len(sound))
    file = BytesIO()
    soundfile.write(file, np.clip(sound + noise, -1, 1), HEARD_RATE, format="WAV", subtype="PCM_16")
    return file.getvalue()


def send_all(
    trial: Trial, addresses: Sequence[str], hand_out: int, words: dict[str, str], sound: np.ndarray
) -> None:
    """Each player sends take after take, and each again until it is acknowledged, here or there."""
    names = list(words)

    def send(number: int) -> None:
        name = names[number % len(names)]
        data = recording(sound, number)
        for turn in count(number // len(names)):
            try:
                answer = httpx2.post(
                    f"{addresses[turn % len(addresses)]}/api/hand-outs/{hand_out}/takes",
                    params={"name": "take.wav", "step": "arpeggio"},
                    content=data,
                    headers={"authorization": f"Bearer {words[name]}"},
                    timeout=60,
                )
            except httpx2.HTTPError:
                trial.done["sendings that broke off"] += 1
                time.sleep(0.3)
                continue
            if answer.status_code == 201:
                with trial.changing:
                    trial.sent[sha256(data).hexdigest()] = name
                time.sleep(trial.manner.rest_s)
                return
            trial.done[f"sendings refused with {answer.status_code}"] += 1
            time.sleep(0.5)

    with ThreadPoolExecutor(len(names)) as pool:
        list(pool.map(send, range(trial.takes)))


def make_trouble(trial: Trial, programs: dict[str, Program]) -> None:
    """Kill what serves and what works, in turns, each so often while takes are sent."""
    kills = min(max(trial.takes // TAKES_A_KILL, 2), MOST_KILLS)
    for number in range(1, kills + 1):
        wait_for(trial, number * trial.takes // (kills + 1))
        list(programs.values())[number % len(programs)].kill()


def renew_and_kill(trial: Trial, programs: dict[str, Program]) -> None:
    """Renew one after another as for a release, then kill one of each kind, and who does a job."""
    renewed = [program.renew for program in programs.values()]
    killed = [program.kill for program in list(programs.values())[:2]]
    deeds = [*renewed, *killed, partial(kill_worker, trial)]
    for number, deed in enumerate(deeds):
        wait_for(trial, number * trial.takes // len(deeds))
        wait_until(lambda: all(is_up(program) for program in programs.values()))
        deed()


def is_up(program: Program) -> bool:
    """Whether it is there, and answers where it serves."""
    if program.process is None or program.process.poll() is not None:
        return False
    with suppress(httpx2.HTTPError):
        return not program.address or httpx2.get(f"{program.address}/ready").status_code == 200
    return False


def kill_worker(trial: Trial) -> None:
    """Kill the process that does a job, as soon as one does."""

    def is_killed() -> bool:
        with trial.school() as school, school.reading() as connection:
            running = jobs_in_state(connection, JobState.RUNNING)
        workers = worker_processes(trial.folder)
        for number in (workers[job.worker] for job in running if job.worker in workers):
            with suppress(ProcessLookupError):
                os.kill(number, signal.SIGKILL)
                trial.done["workers killed"] += 1
                return True
        return all(job.has_ended for job in running) and trial.peace.is_set()

    wait_until(is_killed)


def wait_until(is_so: Callable[[], bool]) -> None:
    """Wait for something, for a minute at most."""
    until_s = time.monotonic() + 60
    while not is_so() and time.monotonic() < until_s:
        time.sleep(0.1)


def watch(trial: Trial, _: dict[str, Program]) -> None:
    """End whichever worker hears the poisoned take, and see how long jobs wait for another."""
    told_s, chance, met = 0.0, random.Random(trial.seed), set[tuple[int, int]]()
    while not trial.peace.wait(0.1) or trial.left:
        if time.monotonic() - told_s > TELLS_EVERY_S:
            told_s = time.monotonic()
            print(f"\r{len(trial.sent)} of {trial.takes} acknowledged", end="", file=sys.stderr)
        with suppress(StoreError), trial.school() as school, school.reading() as connection:
            jobs = {job.number: job for job in jobs_in_state(connection, *JobState)}
        for number, (since_s, attempts) in list(trial.left.items()):
            if jobs[number].attempts > attempts or jobs[number].has_ended:
                trial.waits_s.append(time.monotonic() - since_s)
                del trial.left[number]
        for job in jobs.values():
            if job.state is JobState.RUNNING and not trial.peace.is_set():
                end_at_work(trial, job, chance, met)


def end_at_work(trial: Trial, job: Job, chance: random.Random, met: set[tuple[int, int]]) -> None:
    """Kill who does a job, always or now and then."""
    is_poisoned = job.belongs_to == f"{BELONGING} {POISONED}"
    is_new = (job.number, job.attempts) not in met
    met.add((job.number, job.attempts))
    number = worker_processes(trial.folder).get(job.worker)
    if number is None or not (is_poisoned or (is_new and chance.random() < KILLED_AT_WORK)):
        return
    trial.left[job.number] = (time.monotonic(), job.attempts)
    with suppress(ProcessLookupError):
        os.kill(number, signal.SIGKILL)
    trial.done["workers ended by the poisoned take" if is_poisoned else "workers killed"] += 1


def fill_disk(trial: Trial) -> None:
    """Leave no room for some seconds."""
    file = trial.folder.parent / "filling"
    with suppress(OSError), file.open("wb") as filling:
        while True:
            filling.write(bytes(1 << 20))
            filling.flush()
    time.sleep(FULL_S)
    file.unlink()
    trial.done["times that the disk was full"] += 1


def fail_once(trial: Trial, _: dict[str, Program]) -> None:
    """When a third has been sent the database goes away; at two thirds the disk is full."""
    wait_for(trial, trial.takes // 3)
    trial.database.go_away()
    trial.done["times that the database was away"] += 1
    wait_for(trial, 2 * trial.takes // 3)
    if trial.can_fill:
        fill_disk(trial)


def wait_for(trial: Trial, count: int) -> None:
    while len(trial.sent) < count:
        time.sleep(0.1)


def keep_up(programs: dict[str, Program], over: Event) -> None:
    """Start again what was killed, as a service manager does."""
    while not over.wait(0.2):
        for program in programs.values():
            program.keep_up()
    for program in programs.values():
        program.stop()


def carried_out(trial: Trial) -> str:
    """Do all of it; what came of it, in lines."""
    hand_out, words, sound = prepared(trial)
    over, programs = Event(), programs_of(trial)
    addresses = [program.address for program in programs.values() if program.address]
    threads = [
        Thread(target=keep_up, args=(programs, over)),
        *(Thread(target=trouble, args=(trial, programs)) for trouble in trial.manner.troubles),
    ]
    for thread in threads:
        thread.start()
    begun_s = time.monotonic()
    try:
        send_all(trial, addresses, hand_out, words, sound)
        threads[-1].join()
        sent_s = time.monotonic() - begun_s
        settle(trial, trial.takes // 4)
        trial.peace.set()
        settle(trial, 0)
    finally:
        trial.peace.set()
        over.set()
        for thread in threads:
            thread.join()
    for name, program in programs.items():
        trial.done[f"`halfstep {name} killed"] = program.kills
        trial.done[f"`halfstep {name} stopped and started"] = program.renewals
    return told(trial, sent_s, time.monotonic() - begun_s)


def programs_of(trial: Trial) -> dict[str, Program]:
    """What serves and what does jobs, by name."""
    environment = os.environ | {DATABASE_VARIABLE: trial.database.address}
    data, programs = ("--data", str(trial.folder)), {}
    for number in range(1, trial.manner.pairs + 1):
        port, beside = free_port(), str(trial.manner.workers_beside)
        pages = ("serve", "--no-browser", "--port", str(port), "--workers", beside, *data)
        address = f"http://127.0.0.1:{port}"
        programs[f"serve` {number}"] = Program(pages, environment, address)
        programs[f"work` {number}"] = Program(("work", "--workers", "1", *data), environment)
    return programs


WHOLE = Manner((make_trouble, watch, fail_once))
SHORT = Manner((renew_and_kill,), players=2, rest_s=2.0, pairs=2, workers_beside=0)
"""For the tests: what stops and what is killed, and neither the database nor the disk."""


def settle(trial: Trial, count: int) -> None:
    """Wait until so many jobs are left, and the poisoned one is not among them."""
    until_s = time.monotonic() + QUIET_S
    while time.monotonic() < until_s:
        with suppress(StoreError), trial.school() as school, school.reading() as connection:
            left = jobs_in_state(connection, JobState.WAITING, JobState.RUNNING)
            if len(left) <= count and f"{BELONGING} {POISONED}" not in {
                job.belongs_to for job in left
            }:
                return
        time.sleep(0.5)


def told(trial: Trial, sent_s: float, all_s: float) -> str:
    """What was done, and what came of it."""
    with trial.school() as school:
        with school.reading() as connection:
            takes = every_sent_take(connection)
            jobs = jobs_in_state(connection, *JobState)
        kept = Counter(
            sha256((school.folder / "takes" / take.file).read_bytes()).hexdigest() for take in takes
        )
    lines = [f"{count:5} {what}" for what, count in sorted(trial.done.items())]
    lost = [digest for digest in trial.sent if digest not in kept]
    twice = [digest for digest, count in kept.items() if count > 1]
    unsaid = [take for take in takes if not take.feedback and not take.trouble]
    open_ones = [job for job in jobs if not job.has_ended]
    reasons = Counter(take.trouble for take in takes if not take.feedback)
    lines += [
        f"{len(trial.sent):5} takes acknowledged in {sent_s:.0f} s, all settled in {all_s:.0f} s",
        f"{len(takes):5} takes kept, {sum(bool(take.feedback) for take in takes)} with feedback",
        *(f"{count:5} with a reason: {reason}" for reason, count in reasons.most_common()),
        f"{sum(job.attempts - 1 for job in jobs):5} times that a job was begun again",
        *(
            f"{longest:5.1f} s, the longest that one waited for another worker"
            for longest in sorted(trial.waits_s)[-1:]
        ),
        f"{len(lost):5} lost, {len(twice)} there twice, {len(unsaid)} without a word, "
        f"{len(open_ones)} jobs left open",
    ]
    trial.faults = len(lost) + len(twice) + len(unsaid) + len(open_ones)
    return "\n".join(lines)


def trial_of(kind: str, takes: int, seed: int, manner: Manner = WHOLE) -> Trial:
    """One kind, from nothing; what was found is in it."""
    programs = postgres_programs()
    with (
        tempfile.TemporaryDirectory(prefix="halfstep-") as name,
        place_of(Path(name)) as (disk, can_fill),
    ):
        folder = disk / "school"
        if kind == "file":
            return _tried(Trial(folder, InAFile(folder), can_fill, takes, seed, manner))
        if programs is None:
            sys.exit("no PostgreSQL is installed (Debian: postgresql)")
        with postgres_server(programs) as server:
            return _tried(Trial(folder, OnAServer(server), can_fill, takes, seed, manner))


def _tried(trial: Trial) -> Trial:
    trial.story = carried_out(trial)
    return trial


def main() -> None:
    """Try each kind, and say how many faults there were."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--takes", type=int, default=200)
    parser.add_argument("--kind", choices=("file", "server"))
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    faults = 0
    for kind in (arguments.kind,) if arguments.kind else ("file", "server"):
        trial = trial_of(kind, arguments.takes, arguments.seed)
        print(f"rows in a {kind}\n{trial.story}\n", flush=True)
        faults += trial.faults
    sys.exit(f"{faults} faults" if faults else 0)


if __name__ == "__main__":
    main()
