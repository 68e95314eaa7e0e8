"""Which tests run in one process, since they share what takes long to make?

The marks that pytest-xdist 3.8 has for this are lost with pytest 9.2, where a test no longer
takes the name they write; its hook for another scheduler is not.
"""

from __future__ import annotations

from xdist.scheduler import LoadScopeScheduling

TOGETHER = (
    ("etude/test_every_step.py",),
    ("etude/test_explain.py",),
    ("etude/test_guide_cells_motif_calls.py", "etude/test_later_steps.py"),
    ("etude/test_music.py",),
    ("guides/test_add_a_notation.py",),
    ("guides/test_add_a_step.py",),
    ("guides/test_add_an_instrument.py",),
    ("harmony/test_outline.py",),
    ("lesson/test_described.py", "lesson/test_whole_small.py", "lesson/test_writing.py"),
    ("lesson/test_moved_spelling.py",),
    ("listen/test_known_errors.py",),
    ("render/test_handout.py",),
    ("services/test_notebook.py",),
    ("test_wheel.py",),
)
"""Files below ``tests``, a row for each process's share."""

_ROWS = {f"tests/{name}": row[0] for row in TOGETHER for name in row}


class Together(LoadScopeScheduling):
    """Rows of files first, the fullest ahead; then all other tests one by one."""

    def _split_scope(self, nodeid: str) -> str:
        return _ROWS.get(nodeid.split("::")[0], nodeid)
