"""What can be asked for when a line is written over a chart? The choices of that form."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cache

from halfstep.app.web.page_words import gettext, spoken
from halfstep.backing.styles import STYLES
from halfstep.etude.step import Step
from halfstep.etude.steps import STEPS, VOCABULARY
from halfstep.instruments import INSTRUMENTS
from halfstep.level import Level
from halfstep.pitch import ascii_signs
from halfstep.progression.key import Key

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


def line_choices() -> LineChoices:
    """What can be asked for, in the language of the page."""
    return _line_choices(spoken().code)


@cache
def _line_choices(_language: str) -> LineChoices:
    """The same, made when it is first shown in a language."""
    return LineChoices(
        steps=tuple(map(_step, STEPS)),
        vocabulary=tuple(map(_step, VOCABULARY)),
        levels=level_choices(),
        instruments=instrument_choices(),
        styles=(
            ("", gettext("as the chart says")),
            *((style.name, gettext(style.title)) for style in STYLES),
        ),
        major_keys=_keys((root, _key_words(root, is_minor=False)) for root in _ROOTS),
        minor_keys=_keys((f"{root}m", _key_words(root, is_minor=True)) for root in _MINOR_ROOTS),
    )


def level_choices() -> Choices:
    """The levels."""
    return tuple((str(level), gettext(level)) for level in Level)


def instrument_choices() -> Choices:
    """The instruments."""
    return tuple((player.key, gettext(player.label)) for player in INSTRUMENTS.values())


def key_words(key: Key) -> str:
    """A key, ``E♭ minor``."""
    return str(key) if key.mode else _key_words(str(key.tonic), is_minor=key.minor)


def _key_words(root: str, *, is_minor: bool) -> str:
    if is_minor:
        return gettext("%(root)s minor", root=root)
    return gettext("%(root)s major", root=root)


def _step(step: Step) -> tuple[str, str]:
    title = gettext(step.title)
    return step.name, title if step.number is None else f"{step.number}. {title}"


def _keys(named: Iterable[tuple[str, str]]) -> Choices:
    keys = ((ascii_signs(name), words) for name, words in named)
    return ("", gettext("as it stands")), *keys
