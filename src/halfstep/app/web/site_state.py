"""What do all routes share?"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from halfstep.school.database import School


@dataclass(frozen=True, slots=True)
class Site:
    """What all routes share.

    Attributes
    ----------
    school : School
    secret : bytes
        Seals the links.
    wake : callable
        Tells the workers that a job was added; they would find it by themselves a little later.
    address : str
        By which other devices come; empty for the one that a visitor came by.
    """

    school: School
    secret: bytes
    wake: Callable[[], None]
    address: str = ""
