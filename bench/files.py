"""What does a store of objects cost beside a folder, for a take of 7 MB?

    bench/files.py [ROUNDS]     a test server (moto) on this machine, in a process of its own

It prints processor time and time of the clock, of what keeps and what reads, each as a ratio to the
folder; what a store of one's own takes is told by its environment (HALFSTEP_FILES and AWS_…), and
then measured in its place. Last the time that loading the library takes.
"""

from __future__ import annotations

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from statistics import median
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).resolve().parents[1] / "tests"))

from free_ports import free_port
from halfstep.school.data_folder import FILES_VARIABLE
from halfstep.school.kept_files import FolderFiles, KeptFiles

SIZE = 7_000_000
"""A take of 75 s as it comes."""
PIECE = 192_000
"""Two seconds of a recording that grows."""
SERVER = "from moto.server import main; import sys; main(['-H', '127.0.0.1', '-p', sys.argv[1]])"


class Cost(NamedTuple):
    """Milliseconds of the processor and of the clock, in the middle of all rounds."""

    cpu_ms: float
    wall_ms: float


def cost(act: Callable[[int], object], rounds: int) -> Cost:
    """Of doing something once."""
    found = []
    for number in range(rounds):
        cpu_s, wall_s = time.process_time(), time.perf_counter()
        act(number)
        found.append((time.process_time() - cpu_s, time.perf_counter() - wall_s))
    cpu, wall = zip(*found, strict=True)
    return Cost(1000 * median(cpu), 1000 * median(wall))


def costs(files: KeptFiles, rounds: int) -> dict[str, Cost]:
    """By what is done."""
    take, growing = os.urandom(SIZE), "recordings/1/{}.pcm"

    def grow(number: int) -> None:
        name = growing.format(number)
        for first in range(0, 5 * PIECE, PIECE):
            with files.alone_with(name):
                files.add_piece(name, take[first : first + PIECE], first=first, most=SIZE)

    def read_at_hand(number: int) -> None:
        with files.at_hand(f"takes/1/{number}.wav") as folder:
            (folder / f"takes/1/{number}.wav").read_bytes()

    return {
        "keep a take": cost(lambda n: files.put(f"takes/1/{n}.wav", take), rounds),
        "read it": cost(lambda n: files.content(f"takes/1/{n}.wav"), rounds),
        "have it at hand as a file": cost(read_at_hand, rounds),
        "read 64 kB of it": cost(
            lambda n: b"".join(files.blocks(f"takes/1/{n}.wav", 1_000_000, 1_064_000)), rounds
        ),
        "add five pieces of 2 s": cost(grow, rounds),
        "remove it": cost(lambda n: files.remove(f"takes/1/{n}.wav"), rounds),
    }


@contextmanager
def told_store() -> Iterator[str]:
    """The address of the store that the environment tells, or of a test server."""
    if address := os.environ.get(FILES_VARIABLE):
        yield address
        return
    from urllib.request import Request, urlopen

    url = f"http://127.0.0.1:{(port := free_port())}"
    server = subprocess.Popen(
        [sys.executable, "-c", SERVER, str(port)],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    os.environ |= {"AWS_ENDPOINT_URL": url, "AWS_ALLOW_HTTP": "true", "AWS_REGION": "us-east-1"}
    os.environ |= {"AWS_ACCESS_KEY_ID": "test", "AWS_SECRET_ACCESS_KEY": "test"}
    try:
        for _ in range(200):
            try:
                with urlopen(Request(f"{url}/bench", method="PUT")):
                    break
            except OSError:
                time.sleep(0.1)
        yield "s3://bench"
    finally:
        server.kill()
        server.wait()


def import_cost() -> float:
    """Milliseconds that loading the library takes, in a process that has all else."""
    line = (
        "import time, halfstep.school.kept_files; s = time.process_time(); "
        "import halfstep.school.object_files; print(time.process_time() - s)"
    )
    runs = (
        subprocess.run([sys.executable, "-c", line], check=True, capture_output=True, text=True)
        for _ in range(5)
    )
    return 1000 * median(float(run.stdout) for run in runs)


def main(rounds: int) -> None:
    """Print all of it."""
    with tempfile.TemporaryDirectory() as folder, told_store() as address:
        from halfstep.school.object_files import ObjectFiles

        data = Path(folder)
        in_folder = costs(FolderFiles(data), rounds)
        in_store = costs(ObjectFiles(address, data), rounds)
    print(f"{'':28}{'folder, ms':>20}{'store, ms':>20}{'ratio':>14}")
    print(f"{'':28}{'cpu':>10}{'clock':>10}{'cpu':>10}{'clock':>10}{'cpu':>7}{'clock':>7}")
    for what, there in in_store.items():
        here = in_folder[what]
        ratios = (there.cpu_ms / here.cpu_ms, there.wall_ms / here.wall_ms)
        print(f"{what:28}" + "".join(f"{ms:10.1f}" for ms in (*here, *there)), end="")
        print("".join(f"{ratio:7.1f}" for ratio in ratios))
    print(f"to load the library: {import_cost():.0f} ms of the processor")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10)
