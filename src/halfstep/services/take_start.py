"""Where in a take does bar 1 begin? Said, told by the backing, or found by what is played."""

from __future__ import annotations

from dataclasses import dataclass, replace
from enum import Enum
from math import floor

from halfstep.errors import BriefError
from halfstep.listen.heard_take import HeardTake
from halfstep.listen.pitch_prior import PitchPrior, TakeTimes
from halfstep.services.known_backing import KnownBacking
from halfstep.services.room_delay import RoomDelay
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


class StartSource(Enum):
    """What says where bar 1 begins."""

    REQUEST = "the request"
    BACKING = "a backing that is in the take"
    CHIRPS = "the chirps about a take of the practice room"
    ROOM = "the practice room, but for a delay that is not known"
    NOTES = "what is played"
    FILE = "the beginning of a backing that does not say its bar 1"
    NOTHING = "nothing"


@dataclass(frozen=True, slots=True)
class FormStart:
    """Where in a take bar 1 begins.

    Attributes
    ----------
    source : StartSource
        Only a backing or chirps tell it to the millisecond; notes may all be early or late.
    start_s : float or None
        None where nothing says it, and where it is the backing's only one.
    notice : str
        What should be said of it; empty for nothing.
    """

    source: StartSource
    start_s: float | None = None
    notice: str = ""


UNCLEAR_START = "where bar 1 begins is not clear; say it with `start_s`"
FOREIGN_START = (
    "the backing does not say where its bar 1 is: taken to be its beginning, unless you say it "
    "with `start_s`"
)
_EARLIEST_S, _LATEST_S = -0.05, 0.45
"""Who records with the backing as it plays in headphones is so much later than its count-in ends:
by the delay of a device, up to 300 ms, and by a soloist's tenth of a beat."""
_SAME_TEMPO = 0.005
"""The share by which tempi may differ that are one, said with few digits."""


def start_of_form(
    frame: TakeFrame,
    take: HeardTake,
    backing: KnownBacking | None,
    *,
    start_s: float | None,
    room: RoomDelay | None = None,
) -> FormStart:
    """Where bar 1 begins.

    Parameters
    ----------
    frame : TakeFrame
    take : HeardTake
    backing : KnownBacking or None
    start_s : float or None
        Where in the file it was said to begin.
    room : RoomDelay or None
        What is known of a take of the practice room.

    Raises
    ------
    BriefError
        When that is behind the end of the take.
    """
    if start_s is not None:
        _demand_inside(start_s, take)
        return FormStart(StartSource.REQUEST, start_s / take.rate_ratio)
    if room is not None and room.start_s is not None:
        return FormStart(StartSource.CHIRPS, room.start_s / take.rate_ratio)
    if room is not None and take.delay_s is None:
        return _start_in_room(frame, take, room)
    if take.delay_s is None:
        return _start_beside(frame, take, backing)
    pass_start_s = _start_of_pass(frame, take, (backing and backing.start_s) or 0.0)
    if take.delay_modulo_s is not None and pass_start_s is None:
        return _start_by_notes(frame, take)
    if backing is None or backing.start_s is not None:
        return FormStart(StartSource.BACKING, pass_start_s)
    by_notes = _start_by_notes(frame, take)
    if by_notes.source is StartSource.NOTES:
        return by_notes
    return FormStart(StartSource.FILE, pass_start_s, FOREIGN_START if frame.chart else "")


def _demand_inside(start_s: float, take: HeardTake) -> None:
    length_s = take.file_s(take.length_s)
    if start_s >= length_s:
        ends = f"the recording ends at {length_s:.2f} s; say where in it bar 1 begins"
        raise BriefError(f"`start_s` {start_s:g}: {ends}")


def _start_beside(frame: TakeFrame, take: HeardTake, backing: KnownBacking | None) -> FormStart:
    """Where bar 1 begins in a take that has no backing in it."""
    count_in_s = backing.start_s if backing and _is_its_tempo(frame, backing) else None
    if count_in_s is None:
        return _start_by_notes(frame, take)
    start = _start_by_notes(frame, take, (count_in_s + _EARLIEST_S, count_in_s + _LATEST_S))
    if not start.notice or start.source is StartSource.NOTES:
        return start
    return replace(
        start, notice=f"{start.notice} ({count_in_s:.2f} if the recording began with the backing)"
    )


def _start_in_room(frame: TakeFrame, take: HeardTake, room: RoomDelay) -> FormStart:
    """Where bar 1 begins in a take whose delay is not known: the band came when it was to come."""
    expected_s = room.first_beat_s + _EARLIEST_S, room.first_beat_s + _LATEST_S
    by_notes = _start_by_notes(frame, take, expected_s)
    if by_notes.source is StartSource.NOTES and by_notes.start_s is not None:
        if expected_s[0] <= by_notes.start_s <= expected_s[1]:
            return FormStart(StartSource.ROOM, by_notes.start_s)
    return FormStart(StartSource.ROOM, room.likely_start_s / take.rate_ratio)


def _is_its_tempo(frame: TakeFrame, backing: KnownBacking) -> bool:
    """True where a take is counted in the tempo of its backing."""
    if frame.quarters_a_minute is None or backing.quarters_a_minute is None:
        return bool(frame.rising) and frame.rising == backing.rising
    return abs(frame.quarters_a_minute / backing.quarters_a_minute - 1) <= _SAME_TEMPO


def _start_by_notes(
    frame: TakeFrame, take: HeardTake, expected_s: tuple[float, float] | None = None
) -> FormStart:
    """Where bar 1 begins by what is played, and where it is likely to."""
    match = frame.first_bar(take.notes, expected_s) if take.notes else None
    if match is None:
        unclear = UNCLEAR_START if frame.rising else ""
        return FormStart(StartSource.NOTHING, notice=unclear)
    start_s, place, name = match
    if not place.is_clear:
        return FormStart(StartSource.NOTHING, notice=UNCLEAR_START)
    begins = f"bar 1 begins at {take.file_s(start_s):.2f} s"
    if place.is_expected:
        notice = f"{begins}, as {name} and the backing's count-in have it"
    else:
        notice = f"{begins}, as {name} has it ({100 * place.confidence:.0f} % sure)"
    return FormStart(StartSource.NOTES, start_s, notice)


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
