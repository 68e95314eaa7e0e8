"""What tests share: reference data, the lines of the bench, and calm property tests."""

from __future__ import annotations

import gc
import os
from collections import Counter
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import settings
from xdist.remote import Producer

from brief_reports import ran_briefly
from halfstep.render.known_banks import BANK_VARIABLE, SHIPPED_BANK
from outside_scripts import BENCH, script
from reference_files import DATA
from run_together import Together, turn

gc.set_threshold(50_000)  # millions of small values, of which hardly one is in a circle
settings.register_profile("whole", deadline=None, max_examples=40, derandomize=True)
settings.register_profile("halfstep", settings.get_profile("whole"), max_examples=25)
settings.register_profile("fast", settings.get_profile("whole"), max_examples=15)
settings.load_profile("halfstep")
MANY, ONE_IN = 5, 5
"""Of more cases than these, and of those of a test marked `sampled`, one in so many is quick."""
VERY_MANY = 8
"""Of more cases than these every second one is left to `scripts/test --whole`."""


@pytest.fixture(scope="session")
def reference_data() -> Path:
    """The reference data beside the repository; the test is skipped without it."""
    if not DATA.is_dir():
        pytest.skip("the reference data is not beside the repository")
    return DATA


@pytest.fixture(scope="module")
def takes() -> ModuleType:
    """The bench's lines with known notes."""
    return script(BENCH / "takes.py")


@pytest.fixture(scope="module")
def fingerprint() -> ModuleType:
    """What the network is shown, in a few numbers."""
    return script(BENCH.parent / "training" / "fingerprint.py")


@pytest.fixture(scope="module")
def bank() -> Path:
    """A sound bank to play them: the program's own, whatever else the machine has."""
    return SHIPPED_BANK


@pytest.fixture(autouse=True, scope="session")
def _own_bank() -> None:
    """No test sounds otherwise where a user has set another bank."""
    os.environ.pop(BANK_VARIABLE, None)


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Producer) -> Together | None:
    """Tests that share what takes long to make run in one process."""
    return Together(config, log) if config.getvalue("dist") == "loadgroup" else None


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_protocol(item: pytest.Item, nextitem: pytest.Item | None) -> bool | None:
    """Of several processes each tells of a test as little as is enough."""
    if not hasattr(item.config, "workerinput") or item.config.getoption("durations") is not None:
        return None
    return ran_briefly(item, nextitem)


@pytest.hookimpl(tryfirst=True)
def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Slow tests run last, so that most faults show in the first seconds.

    Of several processes none is left with a long one at the end: there they start first.
    """
    mark_most_slow(items)
    if hasattr(config, "workerinput"):
        leave_for_later(config, items)
        items.sort(key=turn)
    else:
        items.sort(key=lambda item: item.get_closest_marker("slow") is not None)


def leave_for_later(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Of several processes none runs what takes all cores: browsers beside it miss presses."""
    later = [item for item in items if item.get_closest_marker("alone")]
    items[:] = [item for item in items if not item.get_closest_marker("alone")]
    config.hook.pytest_deselected(items=later)


def pytest_collection_finish() -> None:
    """What is loaded and collected stays to the end, and is not looked through again."""
    gc.freeze()


def mark_most_slow(items: Sequence[pytest.Item]) -> None:
    """Of many cases of a test the first stays, and one in so many of those that follow.

    Of very many, every second one is marked as a repeat of what its neighbours show.
    """
    names = [item.nodeid.partition("[")[0] for item in items]
    cases, begun = Counter(names), Counter[str]()
    for item, test in zip(items, names, strict=True):
        many = cases[test] > MANY or item.get_closest_marker("sampled")
        if many and begun[test] % ONE_IN:
            item.add_marker("slow")
        if cases[test] > VERY_MANY and begun[test] % 2:
            item.add_marker("repeat")
        begun[test] += 1
