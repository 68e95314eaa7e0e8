"""What can be asked for when a line is written over a chart? The choices of that form."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from halfstep.backing.styles import STYLES
from halfstep.etude.steps import STEPS, VOCABULARY
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.pitch import ascii_signs

Choices = tuple[tuple[str, str], ...]
"""What is sent, and what is shown for it."""
_ROOTS = ("C", "D♭", "D", "E♭", "E", "F", "F♯", "G", "A♭", "A", "B♭", "B")
_MINOR_ROOTS = ("C", "C♯", "D", "E♭", "E", "F", "F♯", "G", "G♯", "A", "B♭", "B")


@dataclass(frozen=True, slots=True)
class LineChoices:
    """What each field of the form offers."""

    steps: Choices
    vocabulary: Choices
    levels: Choices
    instruments: Choices
    styles: Choices
    major_keys: Choices
    minor_keys: Choices


@cache
def line_choices() -> LineChoices:
    """What can be asked for; made when it is first shown, as it loads every step."""
    return LineChoices(
        steps=tuple((step.name, step.heading) for step in STEPS),
        vocabulary=tuple((step.name, step.heading) for step in VOCABULARY),
        levels=tuple((str(level), str(level)) for level in Level),
        instruments=tuple((player.key, player.label) for player in INSTRUMENTS.values()),
        styles=(("", "as the chart says"), *((style.name, style.title) for style in STYLES)),
        major_keys=_keys(_ROOTS, "", "major"),
        minor_keys=_keys(_MINOR_ROOTS, "m", "minor"),
    )


def _keys(roots: tuple[str, ...], end: str, word: str) -> Choices:
    named = ((f"{ascii_signs(root)}{end}", f"{root} {word}") for root in roots)
    return ("", "as it stands"), *named
