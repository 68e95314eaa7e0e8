"""The numbers that files of the first version call steps by.

The four steps before the first had the numbers from -4 to -1; every other step its own.
"""

from __future__ import annotations

from halfstep.etude.step import Step
from halfstep.etude.steps import find_step

_EARLY_NAMES = {-4: "rhythm", -3: "echo", -2: "question", -1: "root-third"}


def step_stored_as(number: int) -> Step:
    """The step that a file of the first version calls by a number.

    Raises
    ------
    BriefError
        When there never was one.
    """
    return find_step(_EARLY_NAMES.get(number, str(number)))
