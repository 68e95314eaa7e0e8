"""What is heard in recordings of players, once for all tests that ask."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from halfstep.listen.heard_take import HeardTake
from halfstep.listen.transcription import hear


@cache
def heard_once(path: Path) -> HeardTake:
    """A recording beside the repository, heard without a backing."""
    return hear(path)
