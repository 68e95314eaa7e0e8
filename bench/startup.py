"""How much processor time does a command take to show something, against a bare Python start?

Run ``python bench/startup.py [runs]``; 15 runs unless said. Each run is a new process with
compiled files in a cache of its own; its user and system time are counted, which a busy
machine changes less than the time that passes. The least of the runs is shown, all
commands in turn. The aims are the project's own.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile

CHART = "| Fmaj7 | Gm7 C7 |"
BARE = "python -c pass"
COMMANDS = {
    BARE: ("-c", "pass"),
    "halfstep --help": ("-m", "halfstep", "--help"),
    "halfstep chart": ("-m", "halfstep", "chart", CHART),
    "halfstep changes": ("-m", "halfstep", "changes", CHART),
    "halfstep etude": ("-m", "halfstep", "etude", CHART, "--step", "6"),
    "import halfstep": ("-c", "import halfstep"),
    "import numpy": ("-c", "import numpy"),
}
AIMS = {
    "halfstep --help": 3,
    "halfstep chart": 8,
    "halfstep changes": 10,
    "halfstep etude": 16,
}
"""Times a bare start."""


def environment(cache: str) -> dict[str, str]:
    """The environment of a run, with compiled files kept in ``cache``."""
    kept = {name: text for name, text in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": cache}


def processor_seconds(arguments: tuple[str, ...], cache: str) -> float:
    """User and system time of one process."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    subprocess.run(
        [sys.executable, *arguments], check=True, capture_output=True, env=environment(cache)
    )
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime


def main(runs: int, cache: str) -> None:
    """Print the least times, each beside the bare start."""
    times: dict[str, list[float]] = {name: [] for name in COMMANDS}
    for _ in range(runs + 1):  # the first one fills the cache
        for name, arguments in COMMANDS.items():
            times[name].append(processor_seconds(arguments, cache))
    least = {name: min(seconds[1:]) for name, seconds in times.items()}
    for name, seconds in least.items():
        ratio = seconds / least[BARE]
        aim = AIMS.get(name)
        met = "" if aim is None else f"  aim {aim}: {'met' if ratio <= aim else 'missed'}"
        print(f"{name:20} {seconds * 1e3:7.1f} ms {ratio:6.1f} times{met}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 15, made)
