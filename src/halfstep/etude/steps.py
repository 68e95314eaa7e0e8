"""The steps of a lesson, in the order a student meets them.

Four steps without theory come before the first; they have names for numbers.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from halfstep.errors import BriefError


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Attributes
    ----------
    number : int
        Below 1 for a step before the first.
    title : str
    task : str
        What the player does, in one or two sentences.
    word : str
        What a user types for a step before the first.
    """

    number: int
    title: str
    task: str
    word: str = ""

    @property
    def name(self) -> str:
        """What a user types, and files are called by."""
        return self.word or str(self.number)

    @property
    def heading(self) -> str:
        """The title as printed, with its number if it has one."""
        return self.title if self.word else f"{self.number}. {self.title}"


STEPS: dict[int, Step] = {
    step.number: step
    for step in (
        Step(
            -4,
            "One note",
            "One note and your own sense of time. Clap the rhythm, sing it, then play it.",
            "rhythm",
        ),
        Step(
            -3,
            "Echo",
            "Two bars are written, two are yours: play back what you heard, without looking.",
            "echo",
        ),
        Step(
            -2,
            "Question and answer",
            "Two bars ask, two bars answer. Hear how the question stays open and "
            "the answer comes home.",
            "question",
        ),
        Step(
            -1,
            "Root and third",
            "Two notes on each chord. Sing the second one before you play it.",
            "root-third",
        ),
        Step(
            1,
            "Arpeggio",
            "Play the tones of each chord in order, up and down. "
            "Say the name of the third before you play it.",
        ),
        Step(
            2,
            "Arpeggio in rhythm",
            "The same tones in the same order, some of them repeated. "
            "Clap the rhythm first, then play it.",
        ),
        Step(
            3,
            "Broken arpeggio",
            "Chord tones out of order. At each change go to the nearest tone of the new chord.",
        ),
        Step(
            4,
            "Scale",
            "The scale of each chord from its root. Listen for the notes that are new.",
        ),
        Step(
            5,
            "Turning scale",
            "Mostly steps, with turns and a few skips to chord tones. "
            "It need not start on the root.",
        ),
        Step(
            6,
            "One line",
            "One line without a break. At a change keep your direction and "
            "change only the notes that change.",
        ),
        Step(
            7,
            "Guide tones",
            "The third or seventh of each chord, and from it to the nearest one of the next. "
            "Hold them until you hear the chords move.",
        ),
        Step(
            8,
            "Cells",
            "Four notes for two beats: root, 2nd, 3rd, 5th, up, down or turned inside. "
            "Sing the root of the next chord before you play its cell.",
        ),
        Step(
            9,
            "Approach notes",
            "Each chord tone on the beat is reached from a neighbour before it. "
            "Hear the neighbour pull.",
        ),
        Step(
            10,
            "Enclosures",
            "A note above and a note below, then the chord tone on the strong beat.",
        ),
        Step(
            11,
            "Motif",
            "One short figure in every bar, changed only where the chord asks for it. "
            "Sing it before you play it.",
        ),
        Step(
            12,
            "Call and response",
            "Play two bars, then answer them with two of your own over the same changes.",
        ),
        Step(
            13,
            "Chorus",
            "A whole chorus: phrases with room to breathe, and a high point past the middle. "
            "Learn one phrase at a time.",
        ),
    )
}
"""The steps there are, by number."""


def parse_steps(text: str) -> tuple[int, ...]:
    """Read a span of steps such as ``1-6``, ``3``, ``1,4-6`` or ``rhythm-2``.

    Raises
    ------
    BriefError
        When the text is no span, or names a step there is not.
    """
    wanted: set[int] = set()
    for part in text.split(","):
        ends = _SPAN.fullmatch(part.strip().lower())
        if not ends:
            raise BriefError(
                f"steps {text!r} are not a span of steps; write it like 1-6, 1,3 or {_WORDS[0]}"
            )
        low, high = _number(ends[1]), _number(ends[2] or ends[1])
        if low > high or low not in STEPS or high not in STEPS:
            raise BriefError(
                f"steps {text!r}: there are steps 1 to {max(STEPS)}, and before them "
                f"{', '.join(_WORDS)}, the earlier one first"
            )
        wanted.update(number for number in STEPS if low <= number <= high)
    return tuple(sorted(wanted))


_WORDS = tuple(step.word for step in STEPS.values() if step.word)
_STEP = rf"{'|'.join(_WORDS)}|\d{{1,4}}"
_SPAN = re.compile(rf"({_STEP})(?:\s*-\s*({_STEP}))?")


def _number(name: str) -> int:
    """The number of a step that a user names."""
    by_name = {step.name: number for number, step in STEPS.items()}
    return by_name[name] if name in by_name else int(name)
