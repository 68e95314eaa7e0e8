"""How long does ``halfstep changes`` take, from the key press to the last line?

Run ``python bench/changes.py [runs]``; 7 runs unless said. Each run is a new process: the
table of a 32-bar chart, the same as data and as a map, beside Python's own start and end,
numpy's import, and the import of music21's harmony (BSD), which does no work yet. Median
of the runs, files in the disk cache. The aim for the table is the project's own: 0.4 s.
"""

from __future__ import annotations

import subprocess
import sys
import tempfile
from pathlib import Path
from statistics import median
from time import perf_counter

AIM_S = 0.4
CHART = (
    "| Dm7 G7 | Em7 A7 | Dm7 G7 | Cmaj7 | Dm7 G7 | Em7 A7 | Gm7 C7 | Fmaj7 "
    "| E7 | | A7 | | D7 | | G7 | | Ebmaj7 | Cm7 | Fm7 | Bb7 | Gm7b5 C7b9 | Fm7 Db7 "
    "| Ebmaj7/G Gbdim7 | Fm7 Bb7 | Abmaj7 | Dm7b5 G7 | Abm7 | Db7 | Gbmaj7 | Ebm7 "
    "| Dm7 | G7b9 |"
)


def seconds(*arguments: str) -> float:
    """One process, from start to end."""
    start = perf_counter()
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
    return perf_counter() - start


def main(runs: int, folder: Path) -> None:
    """Print the medians, each beside the start of Python."""
    changes = ("-m", "halfstep", "changes", CHART)
    commands = {
        "python -c pass": ("-c", "pass"),
        "import numpy": ("-c", "import numpy"),
        "import music21.harmony": ("-c", "import music21.harmony"),
        "halfstep changes": changes,
        "halfstep changes --json": (*changes, "--json"),
        "halfstep changes --out .svg": (*changes, "--out", str(folder / "map.svg")),
        "halfstep changes --out .pdf": (*changes, "--out", str(folder / "map.pdf")),
    }
    taken: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(runs):  # in turn, so that a busy minute is shared
        for name, arguments in commands.items():
            taken[name].append(seconds(*arguments))
    medians = {name: median(times) for name, times in taken.items()}
    start = medians["python -c pass"]
    for name, time_s in medians.items():
        print(f"{name:28} {time_s:6.3f} s, {time_s / start:5.1f} times Python's own start")
    ours = medians["halfstep changes"]
    print(f"music21.harmony takes {medians['import music21.harmony'] / ours:.1f} times as long")
    print(f"aim {AIM_S} s: {'met' if ours < AIM_S else 'missed'}")


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        main(int(sys.argv[1]) if len(sys.argv) > 1 else 7, Path(made))
