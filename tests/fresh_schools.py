"""Schools in folders of their own whose tables and rows were made once, and are copied.

The changes of the schema take an eighth of a second of processor time each time they are carried
out, which hundreds of tests need not wait for.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from halfstep.school.data_folder import DATABASE_FILE
from halfstep.school.database import School


def _leave_empty(_: School) -> None:
    """Nobody is kept."""


def fresh_school(folder: Path, fill: Callable[[School], None] = _leave_empty) -> School:
    """A school as `School` makes it and a function fills it; one that is there is opened."""
    file = folder / DATABASE_FILE
    if not file.exists():
        folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        file.write_bytes(_database(fill))
    return School(folder)


@cache
def _database(fill: Callable[[School], None]) -> bytes:
    with TemporaryDirectory() as folder:
        with School(Path(folder)) as school:
            fill(school)
        return (Path(folder) / DATABASE_FILE).read_bytes()
