"""The line that a teacher played: a recording through the ear, on the places that were meant."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from pathlib import Path

from halfstep.errors import BriefError, TakeError
from halfstep.feedback.form_places import form_places
from halfstep.feedback.take_clock import clocked_notes
from halfstep.feedback.written_lengths import written_lengths
from halfstep.harmony.analysis import analyse
from halfstep.meter import Feel
from halfstep.services.hear_take import HearTake, Listening, listen
from halfstep.services.known_backing import KnownBacking
from halfstep.services.line_as_read import KeyedSheet, ReadLine, bar_ends
from halfstep.services.take_frame import TakeFrame


def heard_line(
    path: Path,
    sheets: Sequence[KeyedSheet],
    feel: Feel,
    start_s: float | None,
) -> ReadLine:
    """The line of a recording.

    Parameters
    ----------
    path : Path
    sheets : sequence of KeyedSheet
    feel : Feel
        How eighths are meant to fall, where no backing says it.
    start_s : float or None
        Where bar 1 begins; None finds it.

    Raises
    ------
    TakeError
        When it cannot be heard.
    BriefError
        When its tempo or its beginning is not known.
    """
    keyed, listening = _listening(path, sheets, start_s)
    if not listening.written.take.notes:
        raise TakeError(f"{path.name}: no note is heard in it; give another recording")
    if listening.written.form_s is None:
        first_s = listening.written.take.notes[0].onset_s
        raise BriefError(
            f"`line` {path.name}: where its bar 1 begins is not clear (the first note begins at "
            f"{first_s:.2f} s); say it with `line_start_s`, or record the line over a backing"
        )
    notes = clocked_notes(
        listening.written.take.notes,
        listening.clock,
        form=form_places(analyse(keyed.chart)),
        feel=listening.frame.feel or feel,
    )
    spoken = (*(notice.text for notice in listening.written.take.notices), *listening.notices)
    notices = (f"{path.name}: {text}".replace("`start_s`", "`line_start_s`") for text in spoken)
    return ReadLine(keyed, written_lengths(notes, bar_ends(keyed.chart)), tuple(notices))


def _listening(
    path: Path, sheets: Sequence[KeyedSheet], start_s: float | None
) -> tuple[KeyedSheet, Listening]:
    """The recording as it was heard, in the first key in which it may be over its backing.

    Raises
    ------
    BriefError
        When it may be so in none.
    """
    first, *others = sheets
    request = HearTake(path, chart=first.sheet, start_s=start_s)
    try:
        return first, listen(request, demand=_demand_tempo(path.name))
    except BriefError:
        if not others:
            raise
        return _listening(path, others, start_s)


def _demand_tempo(name: str) -> Callable[[TakeFrame, KnownBacking | None], None]:
    """Refuses a recording whose tempo nothing says."""

    def demand(frame: TakeFrame, _: KnownBacking | None) -> None:
        if not frame.is_timed:
            raise BriefError(
                f"`line` {name}: no tempo is known; give it with `tempi`, or record the line over "
                "a backing"
            )

    return demand
