"""The steps of a lesson, in the order a student meets them."""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.errors import BriefError


@dataclass(frozen=True, slots=True)
class Step:
    """One step.

    Attributes
    ----------
    number : int
    title : str
    task : str
        What the player does, in one or two sentences.
    """

    number: int
    title: str
    task: str


STEPS: dict[int, Step] = {
    step.number: step
    for step in (
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
    """Read a span of steps such as ``1-6``, ``3`` or ``1,4-6``.

    Raises
    ------
    BriefError
        When the text is no span, or names a step there is not.
    """
    wanted: set[int] = set()
    for part in text.split(","):
        ends = part.strip().split("-")
        if not all(_is_number(end.strip()) for end in ends) or len(ends) > 2:
            raise BriefError(f"steps {text!r} are not a span of steps; write it like 1-6 or 1,3")
        low, high = int(ends[0]), int(ends[-1])
        if low > high or low not in STEPS or high not in STEPS:
            raise BriefError(
                f"steps {text!r}: there are steps {min(STEPS)} to {max(STEPS)}, "
                "the lower number first"
            )
        wanted.update(range(low, high + 1))
    return tuple(sorted(wanted))


def _is_number(text: str) -> bool:
    """True for a whole number of a few digits; `int` refuses thousands of them."""
    return text.isdecimal() and len(text) <= 4
