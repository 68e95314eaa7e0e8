"""Which tests run in one process, since they share what takes long to make?

The marks that pytest-xdist 3.8 has for this are lost with pytest 9.2, where a test no longer
takes the name they write; its hook for another scheduler is not.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import SupportsIndex

import pytest
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling
from xdist.workermanage import WorkerController

TOGETHER = (
    ("etude/test_guide_cells_motif_calls.py", "etude/test_later_steps.py"),
    ("listen/test_players.py", "listen/test_not_music.py", "listen/test_known_errors.py"),
    ("render/test_shipped_bank.py",),
    ("render/test_handout.py",),
    ("render/test_mixdown.py",),
    ("lesson/test_other_readers.py",),
    ("etude/test_every_step.py",),
    ("test_wheel.py",),
    ("lesson/test_described.py", "lesson/test_whole_small.py", "lesson/test_writing.py"),
    ("lesson/test_moved_spelling.py",),
    ("harmony/test_outline.py",),
    ("etude/test_explain.py",),
    ("etude/test_music.py",),
    ("guides/test_add_a_step.py",),
    ("guides/test_add_an_instrument.py",),
    ("guides/test_add_a_style.py",),
    ("guides/test_add_a_notation.py",),
    ("services/test_notebook.py",),
)
"""Files below ``tests``, a row for each process's share, the costliest first."""
APART = ("tests/lesson/test_real_sheets.py",)
"""Files whose cases take seconds each and share nothing."""

_ROWS = {f"tests/{name}": place for place, row in enumerate(TOGETHER) for name in row}


def turn(item: pytest.Item) -> int:
    """Files that run together start first, then slow tests; the short ones fill up the end."""
    last = len(TOGETHER)
    return _ROWS.get(_file(item.nodeid), last if item.get_closest_marker("slow") else last + 1)


def _file(nodeid: str) -> str:
    """Where a test stands."""
    return nodeid.partition("::")[0]


class NumberedTests(list[str]):
    """Names of tests, each once, whose places are known."""

    def __init__(self, names: Sequence[str]) -> None:
        super().__init__(names)
        self._places = {name: place for place, name in enumerate(names)}

    def index(self, name: str, *_bounds: SupportsIndex) -> int:
        """Where a name stands; looking through thousands takes as long as a short test."""
        return self._places[name]


class Together(LoadScopeScheduling):
    """Rows of files, then test by test, mostly with all its cases, in the order collected."""

    def __init__(self, config: pytest.Config, log: Producer) -> None:
        super().__init__(config, log)
        config.option.loadscopereorder = False

    def _split_scope(self, nodeid: str) -> str:
        file = _file(nodeid)
        if file in _ROWS:
            return TOGETHER[_ROWS[file]][0]
        return nodeid if file in APART else nodeid.partition("[")[0]

    def add_node_collection(self, node: WorkerController, collection: Sequence[str]) -> None:
        """What a process has collected, so that a test's number is found at once."""
        super().add_node_collection(node, collection)
        if node in self.registered_collections:
            self.registered_collections[node] = NumberedTests(collection)

    def mark_test_complete(
        self, node: WorkerController, item_index: int, duration: float = 0
    ) -> None:
        """Forget what is done, which would else be counted again after every test."""
        scope = self._split_scope(self.registered_collections[node][item_index])
        super().mark_test_complete(node, item_index, duration)
        if all(self.assigned_work[node][scope].values()):
            del self.assigned_work[node][scope]
