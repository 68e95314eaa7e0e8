"""Which sound bank plays? The one that ships with the program, unless another is asked for.

The same seed sounds the same on every machine: a bank that the system happens to have is used
only where a call or the environment names it. `find_bank` chooses.
"""

from __future__ import annotations

import os
from pathlib import Path

from halfstep.errors import ReadError

BANK_VARIABLE = "HALFSTEP_SOUND_BANK"
"""Environment variable naming the sound bank to use."""

SHIPPED_BANK = Path(__file__).with_name("bank.sf3")
"""The program's own; its notice and licence stand beside it."""


def find_bank(path: str | Path | None = None) -> Path:
    """The sound bank to use.

    Parameters
    ----------
    path : str or Path, optional
        A bank by its file. Without one: the file named by ``HALFSTEP_SOUND_BANK``, else the
        program's own.

    Raises
    ------
    ReadError
        When the file that is named is not there.
    """
    named = path or os.environ.get(BANK_VARIABLE)
    if not named:
        return SHIPPED_BANK
    if not Path(named).is_file():
        raise ReadError(f"there is no sound bank at {named}")
    return Path(named)
