"""The steps of a lesson, in the order a student meets them; each one is a module.

Names are what steps are known by for good. The numbers from 1 to 13 are a second name of
the thirteen from arpeggio to chorus; the steps before them and those that come later have
a name alone.
"""

from __future__ import annotations

import copyreg

from halfstep.errors import BriefError, did_you_mean
from halfstep.etude.step import Step
from halfstep.etude.steps import (
    approach_notes,
    arpeggio,
    arpeggio_in_rhythm,
    broken_arpeggio,
    call_and_response,
    cells,
    chorus,
    echo,
    enclosures,
    guide_tones,
    motif,
    one_line,
    question,
    rhythm,
    root_third,
    scale,
    turning_scale,
)

LONGEST_NUMBER = 4
"""Digits that are read as a number."""
STEPS = (
    rhythm.STEP,
    echo.STEP,
    question.STEP,
    root_third.STEP,
    arpeggio.STEP,
    arpeggio_in_rhythm.STEP,
    broken_arpeggio.STEP,
    scale.STEP,
    turning_scale.STEP,
    one_line.STEP,
    guide_tones.STEP,
    cells.STEP,
    approach_notes.STEP,
    enclosures.STEP,
    motif.STEP,
    call_and_response.STEP,
    chorus.STEP,
)


def find_step(text: str) -> Step:
    """The step of that name or number.

    Raises
    ------
    BriefError
        When there is none.
    """
    step = _called(text)
    if step is None:
        raise BriefError(f"there is no step {text!r}{_meant(text)}; {_offered()}")
    return step


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
    return tuple(STEPS[place] for place in sorted(places))


def _ends(part: str, text: str) -> tuple[int, int]:
    """The places of the first and the last step of a span; names hold hyphens themselves."""
    words = part.split("-")
    cuts = [(part, part)]
    cuts += [("-".join(words[:cut]), "-".join(words[cut:])) for cut in range(1, len(words))]
    for first, last in cuts:
        ends = _called(first), _called(last)
        if ends[0] and ends[1]:
            return STEPS.index(ends[0]), STEPS.index(ends[1])
    if any(all(map(_looks_like_one, ends)) for ends in cuts):
        raise BriefError(f"steps {text!r}: {_offered()}, the earlier one first")
    example = f"write it like 1-6, 1,3 or {STEPS[0].name}"
    raise BriefError(f"steps {text!r} are not a span of steps{_meant(part)}; {example}")


def _called(text: str) -> Step | None:
    """The step of that name or number, None where there is none."""
    word = text.strip().lower()
    number = int(word) if _is_number(word) else None
    return next((s for s in STEPS if s.name == word or (number and s.number == number)), None)


def _looks_like_one(text: str) -> bool:
    return _is_number(text.strip()) or _called(text) is not None


def _is_number(word: str) -> bool:
    return word.isdecimal() and len(word) <= LONGEST_NUMBER


def _meant(text: str) -> str:
    """The step that may have been meant by a name that none has."""
    return did_you_mean(text, (step.name for step in STEPS))


def _offered() -> str:
    """Which steps there are."""
    numbers = [step.number for step in STEPS if step.number]
    names = ", ".join(step.name for step in STEPS if not step.number)
    return f"there are steps {min(numbers)} to {max(numbers)}, and before them {names}"
