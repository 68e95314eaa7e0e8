"""Where in a take does bar 1 begin? Said, told by the backing, or found by what is played."""

from __future__ import annotations

from math import floor

from halfstep.errors import BriefError
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.pitch_prior import PitchPrior, TakeTimes
from halfstep.services.known_backing import KnownBacking
from halfstep.services.take_frame import TakeFrame


def prior_of_take(
    frame: TakeFrame, start_s: float | None, count_in_s: float, times: TakeTimes
) -> PitchPrior | None:
    """What is likely to be played, where it is known before listening where bar 1 begins."""
    if start_s is None:
        start_s = _first_form(frame, times, count_in_s)
    return None if start_s is None else frame.prior(start_s, times.length_s)


def _first_form(frame: TakeFrame, times: TakeTimes, count_in_s: float) -> float | None:
    """Where the backing's form begins, or some chorus at or before the take's first moment."""
    if times.delay_s is None or times.delay_modulo_s is None:
        return None if times.delay_s is None else times.delay_s + count_in_s
    if not frame.is_whole_choruses(times.delay_modulo_s):
        return None
    return (times.delay_s + count_in_s) % times.delay_modulo_s - times.delay_modulo_s


def start_of_form(
    frame: TakeFrame, take: HeardTake, backing: KnownBacking | None, *, start_s: float | None
) -> tuple[float | None, tuple[str, ...]]:
    """Where bar 1 begins, when no backing says it, and what should be said of that.

    Parameters
    ----------
    frame : TakeFrame
    take : HeardTake
    backing : KnownBacking or None
    start_s : float or None
        Where it was said to begin.

    Raises
    ------
    BriefError
        When that is behind the end of the take.
    """
    tempo = (f"tempo {frame.pulses_a_minute:g}, from {frame.source}",) if frame.source else ()
    if start_s is not None:
        if start_s >= take.length_s:
            ends = f"the recording ends at {take.length_s:.2f} s; say where in it bar 1 begins"
            raise BriefError(f"`start_s` {start_s:g}: {ends}")
        return start_s, tempo
    pass_start_s = _start_of_pass(frame, take, (backing and backing.start_s) or 0.0)
    if take.delay_s is None or not (take.delay_modulo_s is None or pass_start_s is not None):
        start_s, notices = _start_by_notes(frame, take, UNCLEAR_START)
        return start_s, (*tempo, *notices)
    if backing is None or backing.start_s is not None:
        return pass_start_s, tempo
    start_s, notices = _start_by_notes(frame, take, FOREIGN_START)
    return (pass_start_s if start_s is None else start_s), (*tempo, *notices)


UNCLEAR_START = "where bar 1 begins is not clear; say it with `start_s`"
FOREIGN_START = (
    "the backing does not say where its bar 1 is: taken to be its beginning, unless you say it "
    "with `start_s`"
)


def _start_by_notes(
    frame: TakeFrame, take: HeardTake, unclear: str
) -> tuple[float | None, tuple[str, ...]]:
    """Where bar 1 begins by what is played, and what should be said of that."""
    match = frame.first_bar(take.notes) if take.notes else None
    if match is None or frame.quarters_a_minute is None:
        return None, ()
    place, name = match
    start_s = place.beats * 60 / frame.quarters_a_minute
    if not place.is_clear:
        return None, (unclear,)
    sure = f"{100 * place.confidence:.0f} % sure"
    return start_s, (f"bar 1 begins at {start_s:.2f} s, as {name} has it ({sure})",)


def _start_of_pass(frame: TakeFrame, take: HeardTake, count_in_s: float) -> float | None:
    """The last beginning of a chorus before the first note, where it is not known of which.

    None where the backing is not found or its place unmistakable, and where what sounds
    alike is no whole number of choruses, so that bar 1 is not known by it.
    """
    if take.delay_s is None or take.delay_modulo_s is None or not take.notes:
        return None
    if frame.chorus_s is not None and not frame.is_whole_choruses(take.delay_modulo_s):
        return None
    form_s = take.delay_s + count_in_s
    before_s = take.notes[0].onset_s - form_s
    return form_s + floor(before_s / take.delay_modulo_s) * take.delay_modulo_s
