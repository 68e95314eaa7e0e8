"""What do all routes share?"""

from __future__ import annotations

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
    """

    school: School
    secret: bytes
