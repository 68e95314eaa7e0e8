"""Where does the time of a lesson go?

Run ``python bench/lesson.py [runs]``; 7 runs unless said. Each run is a new process that
makes a lesson of twelve bars, six steps and one instrument, with all its files, as
``halfstep lesson`` does. The table is the median over the runs.

Conventions
-----------
- Time is processor time, user and system, of the whole process, from its start to its end: another
  program at work changes it less than what a clock shows. Files are in the disk cache and the
  modules are compiled, as on every day but the first: also where Python is told to keep none.
- Time of threads that no timer sees stands in the row of Python's start and end.
- No profiler: timers stand around some functions, a hundred or so calls in all. A timer
  counts what is spent in its function less what inner timers count, and sound files are encoded and
  data worked out in threads of their own, which are counted for themselves; so the rows add up to
  the whole. Lessons
  without timers are run in between, to show what the timers cost.
- A library's row holds its own calls only, of the engraver, the typesetter and the encoder. The
  sampler and the room are our own code, so their time is ours, though much of it is
  spent in numpy: we chose to write them, and no library would have been asked.
  The share of our code holds them; it is given once more without them, so that a change to
  the rest can be seen.
- The figure to compare with another day's, or another machine's, is the last ratio: the whole over
  what its libraries take in the same runs, which is the least that any program that engraves,
  typesets and encodes as much would need.

The aims are the project's own: under 5 seconds, and our own code under a quarter of it.
"""

from __future__ import annotations

import builtins
import json
import os
import subprocess
import sys
import tempfile
import threading
from collections import defaultdict
from collections.abc import Callable, Sequence
from functools import wraps
from importlib import import_module
from pathlib import Path
from statistics import median
from time import monotonic, process_time, thread_time
from typing import Any

CHART = (
    "| Dm7 | G7 | Cmaj7 | A7 | Dm7 Bb7 | Am7 D7 | Gm7 C7 | Fmaj7 A7 "
    "| Dm7 | Bb7 A7 | Dm7 G7 | Cmaj7 A7 |"
)
LESSON = ["lesson", CHART, "--for", "alto-sax", "--out"]
AIM_S, AIM_SHARE, AIM_HELP_S = 5.0, 0.25, 0.2

PYTHON = "Python: start, end"
LIBRARIES = "loading libraries"
MODULES = "loading our modules"
ENGRAVING = "engraving (verovio)"
TYPESETTING = "typesetting (typst)"
ENCODING = "sound encoded (libavcodec)"
SAMPLER = "notes sampled and mixed"
OUTSIDE = (PYTHON, LIBRARIES, ENGRAVING, TYPESETTING, ENCODING)
SOUND = (SAMPLER,)
DATA = "data written"
BESIDE = (ENCODING, DATA)
"""What threads of their own do."""
REST = "what is left"

TIMED = {
    "progression.load": {"load_sheet_file": "chart read", "typed_sheet": "chart read"},
    "harmony.analysis": {"analyse": "harmony"},
    "etude.etude_writer": {"write_etude": "lines searched and checked"},
    "backing": {"make_backing": "band written"},
    "part.transposed_part": {"part_for": "parts transposed"},
    "part.etude_score": {"score_of": "parts transposed"},
    "lesson.pages": {"handout_for": "handout laid out"},
    "data.lesson_json": {"lesson_data": DATA},
    "render.handout": {"write_handout": "handout laid out"},
    "render.score_pictures": dict.fromkeys(
        ("draw_systems", "draw_signature", "draw_scale"), "signs set around the notes"
    ),
    "render.musicxml_writer": {"write_musicxml": "MusicXML written"},
    "render.midi_file": {"midi_bytes": "MIDI written"},
    "render.mixdown": dict.fromkeys(("band_sound", "with_line"), SAMPLER),
    "render.sound_file": {"write_sound": ENCODING},
}
"""Our own functions with a timer, by the module that defines them, and their rows."""

TYPST_CALLS = ("compile", "query")


class Timers:
    """A stack of running timers; each counts only while it is on top."""

    def __init__(self) -> None:
        self.spent_s: dict[str, float] = defaultdict(float)
        self.running = [REST]
        self.since_s = thread_time()

    def turn(self) -> None:
        """Give the time since the last turn to the timer on top."""
        now_s = thread_time()
        self.spent_s[self.running[-1]] += now_s - self.since_s
        self.since_s = now_s

    def beside(self, row: str, work: Callable[..., Any], *arguments: Any, **options: Any) -> Any:
        """Do the work of another thread; all of its time is that row's."""
        if row not in BESIDE:
            return work(*arguments, **options)
        since_s = thread_time()
        try:
            return work(*arguments, **options)
        finally:
            self.spent_s[row] += thread_time() - since_s

    def around(self, row: str, work: Callable[..., Any]) -> Callable[..., Any]:
        """A function that does the same under a timer."""

        @wraps(work)
        def timed(*arguments: Any, **options: Any) -> Any:
            if threading.current_thread() is not threading.main_thread():
                return self.beside(row, work, *arguments, **options)
            self.turn()
            self.running.append(row)
            try:
                return work(*arguments, **options)
            finally:
                self.turn()
                self.running.pop()

        return timed


def time_imports(timers: Timers) -> None:
    """Count the loading of modules, and put timers around the libraries once loaded."""
    load = builtins.__import__
    ours, theirs = timers.around(MODULES, load), timers.around(LIBRARIES, load)
    waiting = {"verovio": time_verovio, "typst": time_typst}

    def timed_import(name: str, *rest: Any, **options: Any) -> Any:
        if name in sys.modules and not name.startswith("halfstep"):
            return load(name, *rest, **options)
        module = (ours if name.startswith("halfstep") else theirs)(name, *rest, **options)
        if name in waiting:
            waiting.pop(name)(sys.modules[name], timers)
        return module

    builtins.__import__ = timed_import


def time_verovio(verovio: Any, timers: Timers) -> None:
    """Timers around every method of the engraver, and around making one."""
    toolkit = verovio.toolkit
    for name, method in vars(toolkit).items():
        if callable(method) and (name == "__init__" or not name.startswith("_")):
            setattr(toolkit, name, timers.around(ENGRAVING, method))


def time_typst(typst: Any, timers: Timers) -> None:
    """Timers around the typesetter. Its compiler cannot be changed, so it is wrapped."""
    compiler = timers.around(TYPESETTING, typst.Compiler)

    class Compiler:
        """The typesetter's compiler under timers."""

        def __init__(self, *arguments: Any, **options: Any) -> None:
            inner = compiler(*arguments, **options)
            for name in TYPST_CALLS:
                setattr(self, name, timers.around(TYPESETTING, getattr(inner, name)))

    typst.Compiler = Compiler
    for name in ("Fonts", *TYPST_CALLS):
        setattr(typst, name, timers.around(TYPESETTING, getattr(typst, name)))


def time_our_own(timers: Timers) -> None:
    """Put a timer around each function of `TIMED`, wherever its name was imported."""
    for place, rows in TIMED.items():
        defining = import_module(f"halfstep.{place}")
        for name, row in rows.items():
            work = getattr(defining, name)
            timed = timers.around(row, work)
            for module in [m for n, m in sys.modules.items() if n.startswith("halfstep")]:
                for known in [key for key, value in vars(module).items() if value is work]:
                    setattr(module, known, timed)


def timed_lesson(folder: str) -> None:
    """Make the lesson under timers and print the rows. Runs in a process of its own."""
    timers = Timers()
    timers.spent_s[PYTHON] += process_time()
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program does
    time_imports(timers)
    from halfstep.app.terminal.command_line import main
    from halfstep.lesson import write as _write  # noqa: F401

    time_our_own(timers)
    status = main([*LESSON, folder])
    timers.turn()
    print(json.dumps(timers.spent_s))
    sys.exit(status)


def python_environment(compiled: Path) -> dict[str, str]:
    """The environment of a process that keeps its compiled modules in a folder."""
    kept = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    return kept | {"PYTHONPYCACHEPREFIX": str(compiled)}


def child_output(arguments: Sequence[str], environment: dict[str, str]) -> str:
    """What a new Python process prints last; this one ends where it fails."""
    command = [sys.executable, *arguments]
    done = subprocess.run(command, capture_output=True, text=True, env=environment)
    if done.returncode:
        sys.exit(done.stderr)
    return (done.stdout.splitlines() or [""])[-1]


def process_s(arguments: Sequence[str], environment: dict[str, str]) -> float:
    """How long a process takes from being asked for to its end."""
    start_s = monotonic()
    child_output(arguments, environment)
    return monotonic() - start_s


def children_s() -> float:
    """The processor time of all processes that have ended, of this one's."""
    spent = os.times()
    return spent.children_user + spent.children_system


def rows_of_a_run(folder: str, environment: dict[str, str]) -> dict[str, float]:
    """The rows of one lesson under timers, in seconds; what no timer saw is Python's end."""
    before_s = children_s()
    rows: dict[str, float] = json.loads(child_output([__file__, "--timed", folder], environment))
    rows[PYTHON] += children_s() - before_s - sum(rows.values())
    return rows


def report(runs: Sequence[dict[str, float]], untimed_s: float, clock_s: float) -> None:
    """Print the table, the share of our own code, the aims and the ratio."""
    rows = {
        row: median(run.get(row, 0.0) for run in runs) for row in {r for run in runs for r in run}
    }
    whole_s = median(sum(run.values()) for run in runs)
    groups = {
        "libraries": [row for row in rows if row in OUTSIDE],
        "our own code": [row for row in rows if row not in OUTSIDE],
    }
    total_s = {title: sum(rows[row] for row in part) for title, part in groups.items()}
    for title, part in groups.items():
        print(f"{title:32}{1000 * total_s[title]:7.0f} ms {total_s[title] / whole_s:6.1%}")
        for row in sorted(part, key=lambda row: -rows[row]):
            print(f"  {row:30}{1000 * rows[row]:7.0f} ms {rows[row] / whole_s:6.1%}")
    print(f"{'whole, with timers':32}{1000 * whole_s:7.0f} ms")
    print(f"{'whole, without timers':32}{1000 * untimed_s:7.0f} ms")
    print(f"{'  as a clock shows it':32}{1000 * clock_s:7.0f} ms   aim: under {AIM_S:g} s")
    share = total_s["our own code"] / whole_s
    print(f"our own code / whole              {share:6.1%}   aim: under {AIM_SHARE:.0%}")
    share -= sum(rows[row] for row in SOUND) / whole_s
    print(f"  without sound                   {share:6.1%}")
    print(f"whole / what its libraries take   {whole_s / total_s['libraries']:6.2f}")


def main() -> None:
    """Run lessons with and without timers in turn, then the help text."""
    times = int(sys.argv[1]) if len(sys.argv) > 1 else 7
    with tempfile.TemporaryDirectory() as folder:
        environment = python_environment(Path(folder) / "compiled")
        process_s(["-m", "halfstep", *LESSON, f"{folder}/first"], environment)  # compiles
        runs, plain, cpu = [], [], []
        for number in range(times):
            runs.append(rows_of_a_run(f"{folder}/timed{number}", environment))
            before_s = children_s()
            lesson = ["-m", "halfstep", *LESSON, f"{folder}/plain{number}"]
            plain.append(process_s(lesson, environment))
            cpu.append(children_s() - before_s)
        help_s = median(process_s(["-m", "halfstep", "--help"], environment) for _ in range(times))
        bare_s = median(process_s(["-c", ""], environment) for _ in range(times))
    print(f"twelve bars, six steps, one instrument; median of {times} new processes")
    report(runs, median(cpu), median(plain))
    print(
        f"halfstep --help                 {1000 * help_s:7.0f} ms   aim: under {AIM_HELP_S:g} s; "
        f"{help_s / bare_s:.1f} times an empty Python ({1000 * bare_s:.0f} ms)"
    )


if __name__ == "__main__":
    if sys.argv[1:2] == ["--timed"]:
        timed_lesson(sys.argv[2])
    else:
        main()
