"""Two bars of chord tones, and two bars to play them back over the chords that follow.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.etude.costs import (
    NEAR_MIDDLE,
    NEAR_REACH,
    Cost,
    leaping_twice,
    of_notes,
    returning,
    skipping,
    tells,
)
from halfstep.etude.etude_brief import Brief
from halfstep.etude.layouts import in_rhythm, tried_again
from halfstep.etude.palette import Palette
from halfstep.etude.played_back import (
    calls_that_fit,
    echo_notices,
    fits_back,
    has_choice,
    with_echoes,
)
from halfstep.etude.rules import IN_SCALE, NOT_THREE_EQUAL, LocalRule
from halfstep.etude.sentences import PartLine, answer_bars, breaths, written_pitch
from halfstep.etude.slots import Slot
from halfstep.etude.step import NoteByNote, Step
from halfstep.harmony.analysis import Analysis
from halfstep.random_stream import RandomStream


def echo_layout(
    analysis: Analysis, brief: Brief, palettes: Sequence[Palette | None], rng: RandomStream
) -> list[Slot]:
    """Two bars, and two to play them back; or one and one where that fits the chords better."""
    played = calls_that_fit(analysis)
    return with_echoes(in_rhythm(analysis, brief, palettes, rng, played), analysis, played)


def echo_starts(line: PartLine) -> str:
    """The first and the highest note of what is played back."""
    call = line.phrases()[0]
    top = max(call, key=lambda note: written_pitch(line, note).midi)
    if top.pitch == call[0].pitch:
        return f"The first call starts on its highest note, {line.high_name(top)}: find it first."
    return (
        f"The first call starts on {line.high_name(call[0])} and reaches "
        f"{line.high_name(top)}: find these two first."
    )


STEP = Step(
    name="echo",
    title="Echo",
    task="Some bars are written, as many are yours: play back what you heard, without looking.",
    writing=NoteByNote(
        layouts=tried_again(echo_layout),
        costs=(
            of_notes(2, skipping, 0.6),
            Cost(1, tells, 0.5),
            of_notes(3, returning, 0.6),
            of_notes(3, leaping_twice, 0.8),
        ),
        contour=NEAR_MIDDLE,
        reach=NEAR_REACH,
        notices=echo_notices(calls_that_fit),
    ),
    rules=(
        IN_SCALE,
        LocalRule("what is played fits where it is played back", 1, fits_back),
        NOT_THREE_EQUAL._replace(applies=has_choice),
    ),
    sentences=(echo_starts, answer_bars, breaths),
    stream=97,
)
