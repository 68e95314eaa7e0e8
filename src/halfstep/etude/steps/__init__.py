"""The steps of a lesson, in the order a student meets them; each one is a module.

Names are what steps are known by for good. The numbers from 1 to 13 are a second name of
the thirteen from arpeggio to chorus; the steps before them and those that come later have
a name alone. So has the vocabulary, `VOCABULARY`, which no span of the lesson holds: its modules
stand in `halfstep.etude.vocabulary`.
"""

from __future__ import annotations

import copyreg
from importlib import import_module

from halfstep.errors import BriefError, did_you_mean
from halfstep.etude.step import NUMBERED, Step
from halfstep.search import Lazy

LONGEST_NUMBER = 4
"""Digits that are read as a number."""
STEP_NAMES = (
    "rhythm",
    "echo",
    "question",
    "root-third",
    "arpeggio",
    "arpeggio-in-rhythm",
    "broken-arpeggio",
    "scale",
    "turning-scale",
    "one-line",
    "guide-tones",
    "cells",
    "approach-notes",
    "enclosures",
    "motif",
    "call-and-response",
    "chorus",
)
"""In order. Each names the module of its `STEP`, which has ``_`` for ``-``."""
VOCABULARY_NAMES = (
    "plain-guide-tones",
    "inversions",
    "pentatonics",
    "blues-scale",
    "digital-patterns",
    "sequence",
    "sequence-through-keys",
    "scale-in-thirds",
    "scale-in-fourths",
    "bebop-scales",
    "triad-pairs",
    "quartal-cells",
    "shell-voicings",
    "walking-bass",
)
"""What is asked for by name beside the steps of a lesson, the easier first; as `STEP_NAMES`."""
_NAMES = (*STEP_NAMES, *VOCABULARY_NAMES)


def _at(place: int) -> Step:
    """The step of a place, whose module is loaded now: an etude needs one of them."""
    package = __name__ if place < len(STEP_NAMES) else "halfstep.etude.vocabulary"
    step: Step = import_module(f"{package}.{_NAMES[place].replace('-', '_')}").STEP
    return step


STEPS = Lazy(len(STEP_NAMES), _at)
"""The steps of a lesson: help, spans, papers, schema and tests derive from the list."""
VOCABULARY = Lazy(len(VOCABULARY_NAMES), lambda place: _at(len(STEP_NAMES) + place))
"""What a teacher asks for by name, or a unit of the course brings."""
STEPS_AND_VOCABULARY = Lazy(len(_NAMES), _at)
"""The steps of a lesson and the vocabulary."""


def find_step(text: str) -> Step:
    """The step of that name or number.

    Raises
    ------
    BriefError
        When there is none.
    """
    place = _place(text)
    if place is None:
        raise BriefError(f"there is no step {text!r}{_meant(text)}; {_offered()}")
    return STEPS_AND_VOCABULARY[place]


copyreg.pickle(Step, lambda step: (find_step, (step.name,)))  # another process has it, too


def parse_steps(text: str) -> tuple[Step, ...]:
    """Read a span of steps such as ``1-6``, ``scale``, ``1,4-6`` or ``rhythm-cells``.

    Returns
    -------
    tuple of Step
        Each once, in the order of the lesson.

    Raises
    ------
    BriefError
        When the text is no span, or names a step there is not.
    """
    places: set[int] = set()
    for part in text.split(","):
        first, last = _ends(part, text)
        if first > last:
            raise BriefError(f"steps {text!r}: {_offered()}, the earlier one first")
        places.update(range(first, last + 1))
    return tuple(STEPS_AND_VOCABULARY[place] for place in sorted(places))


def _ends(part: str, text: str) -> tuple[int, int]:
    """The places of the first and the last step of a span; names hold hyphens themselves."""
    words = part.split("-")
    cuts = [(part, part)]
    cuts += [("-".join(words[:cut]), "-".join(words[cut:])) for cut in range(1, len(words))]
    for first, last in cuts:
        ends = _place(first), _place(last)
        if ends[0] is not None and ends[1] is not None:
            return ends[0], ends[1]
    if any(all(map(_looks_like_one, ends)) for ends in cuts):
        raise BriefError(f"steps {text!r}: {_offered()}, the earlier one first")
    example = f"write it like 1-6, 1,3 or {STEP_NAMES[0]}"
    raise BriefError(f"steps {text!r} are not a span of steps{_meant(part)}; {example}")


def _place(text: str) -> int | None:
    """Where the step of that name or number stands, None where there is none."""
    word = text.strip().lower()
    if _is_number(word) and 1 <= int(word) <= len(NUMBERED):
        word = NUMBERED[int(word) - 1]
    return _NAMES.index(word) if word in _NAMES else None


def _looks_like_one(text: str) -> bool:
    return _is_number(text.strip()) or _place(text) is not None


def _is_number(word: str) -> bool:
    return word.isdecimal() and len(word) <= LONGEST_NUMBER


def _meant(text: str) -> str:
    """The step that may have been meant by a name that none has."""
    return did_you_mean(text, _NAMES)


def _offered() -> str:
    """Which steps there are."""
    names = ", ".join(name for name in STEP_NAMES if name not in NUMBERED)
    more = ", ".join(VOCABULARY_NAMES)
    return f"there are steps 1 to {len(NUMBERED)}, and before them {names}; vocabulary is {more}"
