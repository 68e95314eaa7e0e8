"""Does a lesson for a whole class take half the time on two cores?

Run ``python bench/two_cores.py [runs]``; 3 runs unless said. Each run is a new process that makes
the lesson of ``bench/lesson.py`` for twelve players: alone on one core, and with two processes on
two cores, in turn. The files of both must be the same.

Conventions
-----------
- By the clock the least time of each is taken: other programs at work only add to it.
- By the processor's time the ratio is what two cores that have nothing else to do would need at
  least: half of all that the processes take, and half of what one of them takes while the
  others have nothing to do, before they are begun and after their last task. That does not depend
  on who else works; what is lost because one ends before the other, a page at most, is not in it.
"""

from __future__ import annotations

import json
import os
import sys
import tempfile
from collections.abc import Iterator, Sequence
from filecmp import cmp
from pathlib import Path
from time import monotonic, process_time
from typing import Any

from lesson import CHART, child_output, children_s, python_environment

AIM = 1.7
CORES = 2


def made_lesson(folder: str, processes: int) -> None:
    """Make the lesson with so many processes and print what it took. Runs in a process."""
    os.sched_setaffinity(0, sorted(os.sched_getaffinity(0))[:processes])
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program does
    begun_s = monotonic()
    from halfstep.instruments import INSTRUMENTS
    from halfstep.services import make_lesson as service

    spent: list[float] = []
    mark_ends(service, spent)
    request = service.MakeLesson(CHART, Path(folder), tuple(INSTRUMENTS))
    service.make_lesson(request, processes=processes)
    before_s, after_s = spent[0], process_time() - spent[-1]
    row = {
        "clock": monotonic() - begun_s,
        "cpu": process_time() + children_s(),
        "alone": before_s + after_s,
    }
    print(json.dumps(row))


def mark_ends(service: Any, spent: list[float]) -> None:
    """Note this process's time when others are begun, and when they have done their tasks."""
    begin, write = service.workers_for, service.write_lesson_files

    def beginning(*arguments: Any) -> Any:
        spent.append(process_time())
        return begin(*arguments)

    def writing(*arguments: Any, **options: Any) -> Any:
        files = write(*arguments, **options)
        spent.append(process_time())
        return files

    service.workers_for, service.write_lesson_files = beginning, writing


def rows_of(runs: int, folder: Path) -> Iterator[tuple[dict[str, float], dict[str, float]]]:
    """What one process and two took, run by run."""
    environment = python_environment(folder / "compiled")
    for run in range(-1, runs):  # the first compiles and fills the cache
        rows = [
            json.loads(
                child_output(
                    [__file__, "--made", str(folder / f"{run} {number}"), str(number)], environment
                )
            )
            for number in (1, CORES)
        ]
        if run >= 0:
            demand_same(folder / f"{run} 1", folder / f"{run} {CORES}")
            yield rows[0], rows[1]


def demand_same(one: Path, other: Path) -> None:
    """End where the files of two folders are not the same."""
    names = [sorted(path.name for path in folder.iterdir()) for folder in (one, other)]
    differing = [name for name in names[0] if not cmp(one / name, other / name, shallow=False)]
    if names[0] != names[1] or differing:
        sys.exit(f"the files differ: {names if names[0] != names[1] else differing}")


def least_of(rows: Sequence[dict[str, float]]) -> dict[str, float]:
    """The least of each figure of several runs."""
    return {name: min(row[name] for row in rows) for name in rows[0]}


def main() -> None:
    """Run both in turn and print the ratios."""
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 3
    with tempfile.TemporaryDirectory() as folder:
        rows = list(rows_of(runs, Path(folder)))
    alone, together = zip(*rows, strict=True)
    one, two = least_of(alone), least_of(together)
    least_s = (two["cpu"] + two["alone"]) / CORES
    print(f"twelve bars, six steps, twelve players; the least of {runs} runs; same files")
    print(f"{'':24}{'one core':>10}{'two cores':>11}{'ratio':>8}   aim {AIM}")
    print(f"{'by the clock':24}{one['clock']:8.1f} s{two['clock']:9.1f} s", end="")
    print(f"{one['clock'] / two['clock']:8.2f}")
    print(f"{'by processor time':24}{one['cpu']:8.1f} s{least_s:9.1f} s{one['cpu'] / least_s:8.2f}")
    print(f"two processes take {two['cpu']:.1f} s in all, {two['alone']:.2f} of them one alone")


if __name__ == "__main__":
    if sys.argv[1:2] == ["--made"]:
        made_lesson(sys.argv[2], int(sys.argv[3]))
    else:
        main()
