"""Where does that lie which is heard of a recording while it grows? Until its take was heard.

Nothing in it is kept for good: what is left there by somebody who never sent the take, or by a
process that was killed, is swept away.
"""

from __future__ import annotations

import shutil
import time
from contextlib import suppress
from pathlib import Path

from halfstep.school.data_folder import EARLY_FOLDER
from halfstep.school.database import School

STAYS_S = 3600.0
"""So long after the last note it may still be of use."""


def early_folder(school: School, student: int, key: str) -> Path:
    """That of a player's recording."""
    return school.folder / early_below(student, key)


def early_below(student: int, key: str) -> Path:
    """The same below the school's folder."""
    return Path(EARLY_FOLDER) / str(student) / key


def early_sound(school: School, student: int, key: str) -> Path:
    """Where that of a player's recording lies which came to this machine, if it grows elsewhere."""
    return early_folder(school, student, key) / "sound.pcm"


def early_folders(student: int) -> str:
    """That of all recordings of a player, below the school's."""
    return f"{EARLY_FOLDER}/{student}"


def remove_early(folder: Path) -> None:
    """Remove what was heard of a recording; what is in the way is swept away later."""
    shutil.rmtree(folder, ignore_errors=True)


def sweep_early(school: School) -> None:
    """Remove what is of no use any more, and have a place that nobody else looks into."""
    oldest = time.time() - STAYS_S
    with suppress(OSError):  # then nothing is heard early
        (school.folder / EARLY_FOLDER).mkdir(mode=0o700, exist_ok=True)
    for folder in (school.folder / EARLY_FOLDER).glob("*/*"):
        try:
            is_old = folder.stat().st_mtime < oldest
        except OSError:  # removed meanwhile
            continue
        if is_old:
            remove_early(folder)
