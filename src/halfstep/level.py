"""How far has a student come?"""

from __future__ import annotations

from enum import StrEnum


class Level(StrEnum):
    """How far a student has come; it narrows range, rhythm and scale choices."""

    BEGINNER = "beginner"
    INTERMEDIATE = "intermediate"
    ADVANCED = "advanced"
