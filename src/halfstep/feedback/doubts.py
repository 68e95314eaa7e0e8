"""Why can a take not be judged, or not surely? Said once, in the place of a guess."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from halfstep.listen.heard_take import HeardTake
from halfstep.listen.take_notice import Trouble


@dataclass(frozen=True, slots=True)
class Doubt:
    """Something that stands against judging a take.

    Attributes
    ----------
    reason : str
        In words; a field of the request that would help stands between grave accents.
    is_total : bool
        Nothing of the take is judged; else what is told may be wrong.
    lessens : bool
        What is told is less sure; else something is not judged, and the rest as surely as ever.
    covers : bool
        Notes may have been played that are not heard: of none is said that it is missing.
    """

    reason: str
    is_total: bool = True
    lessens: bool = True
    covers: bool = False


_TOTAL = {
    Trouble.ONLY_BACKING,
    Trouble.ONLY_CLICKS,
    Trouble.NO_NOTE,
    Trouble.SPEECH,
    Trouble.SEVERAL_NOTES,
}
_PARTIAL = {Trouble.DAMAGED, Trouble.CLIPPED, Trouble.LOUD_BACKING}


def doubts_of_hearing(take: HeardTake) -> Iterator[Doubt]:
    """What stands against judging a take by the way it sounds."""
    for trouble, text in take.notices:
        if trouble in _TOTAL | _PARTIAL:
            covers = trouble is Trouble.LOUD_BACKING
            yield Doubt(text, is_total=trouble in _TOTAL, covers=covers)
