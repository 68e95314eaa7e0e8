"""The bench of a lesson times functions that are there."""

from __future__ import annotations

import importlib.util
import sys
from concurrent.futures import ThreadPoolExecutor
from importlib import import_module
from pathlib import Path
from types import ModuleType

import pytest

BENCH = Path(__file__).resolve().parents[2] / "bench" / "lesson.py"


@pytest.fixture(scope="module")
def bench() -> ModuleType:
    spec = importlib.util.spec_from_file_location("lesson_bench", BENCH)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["lesson_bench"] = module
    spec.loader.exec_module(module)
    return module


def test_every_timed_function_is_defined_where_the_bench_looks(bench: ModuleType) -> None:
    """Else a row would vanish into what is left, as that of MIDI once did."""
    missing = [
        f"{place}.{name}"
        for place, rows in bench.TIMED.items()
        for name in rows
        if not callable(getattr(import_module(f"halfstep.{place}"), name, None))
    ]
    assert missing == []


def test_only_what_other_peoples_code_takes_is_counted_as_theirs(bench: ModuleType) -> None:
    rows = {row for functions in bench.TIMED.values() for row in functions.values()}
    assert set(bench.SOUND) < rows
    assert rows & set(bench.OUTSIDE) == {bench.ENCODING}, "which does no more than hand on"


def test_an_inner_timer_stops_the_outer_one(bench: ModuleType, monkeypatch) -> None:
    """The rows add up to the whole: 1 s before, 2 s inside, 4 s after."""
    now_s = iter([0.0, 1.0, 3.0, 7.0])
    monkeypatch.setattr(bench, "thread_time", lambda: next(now_s))
    timers = bench.Timers()
    timers.around("inner", lambda: None)()
    timers.turn()
    assert timers.spent_s == {bench.REST: 1.0 + 4.0, "inner": 2.0}


def test_what_another_thread_encodes_is_counted_beside_the_rest(
    bench: ModuleType, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three seconds in the thread, none of them the main thread's; other work there is not seen."""
    timers = bench.Timers()
    now_s = iter([10.0, 13.0])
    monkeypatch.setattr(bench, "thread_time", lambda: next(now_s))
    with ThreadPoolExecutor(1) as threads:
        threads.submit(timers.around(bench.ENCODING, lambda: None)).result()
        threads.submit(timers.around("inner", lambda: None)).result()
    assert timers.spent_s == {bench.ENCODING: 3.0}
