"""Which tests run in one process, since they share what takes long to make?

The marks that pytest-xdist 3.8 has for this are lost with pytest 9.2, where a test no longer
takes the name they write; its hook for another scheduler is not.
"""

from __future__ import annotations

import pytest
from xdist.remote import Producer
from xdist.scheduler import LoadScopeScheduling
from xdist.workermanage import WorkerController

TOGETHER = (
    ("etude/test_every_step.py",),
    ("etude/test_explain.py",),
    ("etude/test_guide_cells_motif_calls.py", "etude/test_later_steps.py"),
    ("etude/test_music.py",),
    ("guides/test_add_a_notation.py",),
    ("guides/test_add_a_step.py",),
    ("guides/test_add_a_style.py",),
    ("guides/test_add_an_instrument.py",),
    ("harmony/test_outline.py",),
    ("lesson/test_described.py", "lesson/test_whole_small.py", "lesson/test_writing.py"),
    ("lesson/test_moved_spelling.py",),
    ("lesson/test_other_readers.py",),
    ("listen/test_players.py", "listen/test_not_music.py", "listen/test_known_errors.py"),
    ("render/test_handout.py",),
    ("services/test_notebook.py",),
    ("test_wheel.py",),
)
"""Files below ``tests``, a row for each process's share."""

_ROWS = {f"tests/{name}": row[0] for row in TOGETHER for name in row}


def turn(item: pytest.Item) -> int:
    """Files that run together start first, then slow tests; the short ones fill up the end."""
    if item.nodeid.split("::")[0] in _ROWS:
        return 0
    return 1 if item.get_closest_marker("slow") else 2


class Together(LoadScopeScheduling):
    """Rows of files, then test by test with all its cases, in the order they are collected in."""

    def __init__(self, config: pytest.Config, log: Producer) -> None:
        super().__init__(config, log)
        config.option.loadscopereorder = False

    def _split_scope(self, nodeid: str) -> str:
        return _ROWS.get(nodeid.split("::")[0], nodeid.split("[")[0])

    def mark_test_complete(
        self, node: WorkerController, item_index: int, duration: float = 0
    ) -> None:
        """Forget what is done, which would else be counted again after every test."""
        scope = self._split_scope(self.registered_collections[node][item_index])
        super().mark_test_complete(node, item_index, duration)
        if all(self.assigned_work[node][scope].values()):
            del self.assigned_work[node][scope]
