"""Is a file a recording at all? A look at its beginning, before it is kept or listened to."""

from __future__ import annotations

from pathlib import Path


def demand_recording(path: Path) -> None:
    """Refuse what has no sound in it that can be read.

    Raises
    ------
    TakeError
        With what is wrong, and what can be read, in one line.
    """
    from halfstep.listen.audio import Recording  # it loads what decodes

    _ = Recording(path).declared_rate
