"""How long does the server take for each page, each file and each thing that is done?

    python bench/web.py               a class of 30 after 12 weeks, 15 visits of each address
    python bench/web.py --weeks 4 --visits 40

Prints, of every address that the site has, so that a new one is measured too: the middle and the
95th in a hundred of the visits, by the clock, and the middle in CPU time, in ms. Beside them, in
the same run and by the same client, stands a bare route of Starlette with one row read by the
standard library's sqlite3: what any answer costs. Then the time from ``halfstep serve`` to its
first answer, and the CPU time of ``halfstep --help`` beside Python's own start. What cannot be
visited again and again (what removes, and what other programs ask for) is named, not measured.
"""

from __future__ import annotations

import argparse
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from statistics import median, quantiles
from time import perf_counter, process_time
from typing import Any
from urllib.request import HTTPCookieProcessor, build_opener

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, Response
from starlette.routing import Route
from starlette.testclient import TestClient

from halfstep.app.web.routes import ROUTES
from halfstep.school.invitations import desk_word, invite_class, link_word

TESTS = Path(__file__).resolve().parents[1] / "tests"
CHART = "| Dm7 | G7 | Cmaj7 | A7 |"
AIM_MS, READY_AIM_S = 100.0, 3.0
PLAYER = "Anrik"
NUMBERS = {
    "{number:int}": "1", "{line:int}": "1", "{take:int}": "2", "{hand_out:int}": "1",
    "{suffix}": "musicxml", "{part}": "line",
}  # fmt: skip
FILES = {"/sheets/": "step-1-baritone-sax.svg", "/takes/": "feedback.svg"}
ASKED = {"/hand-outs/new": "?chart=1"}
FORMS: dict[str, dict[str, str]] = {
    "/charts/drawn": {"text": CHART},
    "/charts": {"text": CHART},
    "/charts/{number:int}": {"text": CHART, "title": "Two Roads"},
    "/charts/{number:int}/scales": {"scale": "1 mixolydian"},
    "/charts/{number:int}/lines": {"step": "scale", "instrument": "alto-sax"},
    "/in/{word}": {"name": PLAYER},
    "/lines/{line:int}/edits": {"at": "0", "do": "step-up", "times": "1", "bar": "1"},
    "/hand-outs": {"chart": "1", "whom": "class-1", "steps": "scale", "tempo_bpm": "90"},
    "/takes/{take:int}/words": {"words": "Sing bar 2 first."},
}
ONCE = ("/remove", "/withdraw", "/erase", "/out")
"""Ends of addresses that are done once."""


@contextmanager
def busy_desk(folder: Path, weeks: int) -> Iterator[Any]:
    """The school of the tests, in the midst of its term."""
    sys.path[:0] = [str(TESTS), str(TESTS / "web")]
    from busy_school import fill_school
    from desks import empty_desk

    with empty_desk(folder) as desk:
        fill_school(desk, weeks=weeks)
        yield desk


@dataclass(frozen=True, slots=True)
class Visited:
    """What the visits of one address took, in ms."""

    name: str
    status: int
    clock: list[float]
    cpu: list[float]

    def line(self) -> str:
        """As it is printed."""
        slow = quantiles(self.clock, n=20)[-1]
        late = "  over the aim" if slow > AIM_MS else ""
        return (
            f"{self.name:48} {self.status} {median(self.clock):8.1f} {slow:8.1f} "
            f"{median(self.cpu):8.1f}{late}"
        )


def visited(name: str, visit: Callable[[], Any], times: int) -> Visited:
    """Visit an address so many times, and once before that."""
    status, clock, cpu = visit().status_code, [], []
    for _ in range(times):
        clock_s, cpu_s = perf_counter(), process_time()
        visit()
        clock.append(1000 * (perf_counter() - clock_s))
        cpu.append(1000 * (process_time() - cpu_s))
    return Visited(name, status, clock, cpu)


@contextmanager
def bare_site(folder: Path) -> Iterator[TestClient]:
    """One route that shows one row."""
    connection = sqlite3.connect(folder / "bare.sqlite3", check_same_thread=False)
    connection.execute("CREATE TABLE rows (id INTEGER PRIMARY KEY, name TEXT)")
    connection.execute("INSERT INTO rows (name) VALUES ('Room Twelve')")

    def read() -> str:
        return str(connection.execute("SELECT name FROM rows WHERE id = 1").fetchone()[0])

    async def show(request: Request) -> Response:
        del request
        return HTMLResponse(await run_in_threadpool(read))

    with TestClient(Starlette(routes=[Route("/", show)])) as client:
        yield client
    connection.close()


def addresses(desk: Any) -> Iterator[tuple[str, str, str]]:
    """Method, name and address of every route, but for what other programs ask for."""
    with desk.school.writing() as connection:
        word = link_word(desk.secret, invite_class(connection, 1))
    for route in ROUTES:
        if not isinstance(route, Route) or route.path.startswith(("/api/", "/calendar")):
            continue
        address = route.path.replace("{word}", word)
        for name, number in NUMBERS.items():
            address = address.replace(name, number)
        for beginning, name in FILES.items():
            if address.startswith(beginning):
                address = address.replace("{name}", name)
        method = "POST" if "POST" in (route.methods or ()) else "GET"
        yield method, route.path, address + ASKED.get(route.path, "")


def visits(desk: Any, times: int) -> Iterator[Visited]:
    """All addresses, by who may see them."""
    word = desk.players_word(PLAYER)
    with desk.visitor(desk_word(desk.secret)) as teacher, desk.visitor(word) as player:
        for method, name, address in addresses(desk):
            if method == "POST" and name.endswith(ONCE):
                continue
            client = player if name.startswith(("/week", "/my-takes")) else teacher
            yield visited(
                f"{method} {name}",
                lambda: client.request(method, address, data=FORMS.get(name)),  # noqa: B023
                times,
            )


def ready_s(folder: Path) -> float:
    """From the start of the program to its first answer."""
    command = [sys.executable, "-m", "halfstep", "serve", "--no-browser", "--port", "0"]
    start_s = perf_counter()
    with subprocess.Popen(
        [*command, "--data", str(folder)], stdout=subprocess.PIPE, text=True
    ) as process:
        try:
            assert process.stdout
            address = process.stdout.readline().split()[-1]
            with build_opener(HTTPCookieProcessor()).open(address) as answer:
                answer.read()
            return perf_counter() - start_s
        finally:
            process.terminate()


def help_ratio(runs: int = 7) -> float:
    """CPU time of ``halfstep --help``, in bare starts of Python."""
    from startup import processor_seconds

    with tempfile.TemporaryDirectory() as cache:
        least = [
            min(processor_seconds(arguments, cache) for _ in range(runs))
            for arguments in (("-m", "halfstep", "--help"), ("-c", "pass"))
        ]
    return least[0] / least[1]


def main(weeks: int, times: int, folder: Path) -> None:
    """Print all of it."""
    print(f"{'':48}     p50 ms   p95 ms   CPU ms")
    with bare_site(folder) as bare:
        print(visited("a bare route with one row", lambda: bare.get("/"), times).line())
    with busy_desk(folder / "busy", weeks) as desk:
        for each in visits(desk, times):
            print(each.line(), flush=True)
    ready = [ready_s(folder / f"new-{number}") for number in range(3)]
    print(f"from `halfstep serve` to its first answer: {median(ready):.1f} s, aim {READY_AIM_S} s")
    print(f"`halfstep --help`: {help_ratio():.1f} times the CPU of a bare start of Python")


if __name__ == "__main__":
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--weeks", type=int, default=12)
    parser.add_argument("--visits", type=int, default=15)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as made:
        main(options.weeks, options.visits, Path(made))
