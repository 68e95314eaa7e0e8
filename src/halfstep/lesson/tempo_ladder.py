"""Which tempi does ``80..160+5`` ask for? Single ones, shares of the piece's own, and ladders.

Tempi are pulses a minute, whole ones. A share of the piece's tempo is rounded.
"""

from __future__ import annotations

import re
from collections.abc import Iterator

from halfstep.errors import BriefError
from halfstep.meter import FASTEST_BPM, SLOWEST_BPM

MOST_TEMPI = 60
_NUMBER = re.compile(r"\d{1,3}(?:\.\d{1,2})?", re.ASCII)
_SHARE = re.compile(r"(\d{1,3}(?:\.\d)?)\s*%", re.ASCII)
_LADDER = re.compile(r"(\d{1,3})\s*\.\.\s*(\d{1,3})\s*([+-])\s*(\d{1,3})", re.ASCII)
_WANTED = (
    f"give pulses a minute from {SLOWEST_BPM} to {FASTEST_BPM}, such as 120, or 80..160+5, "
    "or 60%,80%,100%"
)


def tempo_ladder(text: str, tempo_bpm: float) -> tuple[float, ...]:
    """The tempi in the order they are written, each once.

    Parameters
    ----------
    text : str
        ``120``; ``80..160+5``, which goes up by five, or ``160..80-5``; ``60%,80%,100%`` of
        the piece's tempo; several of these with commas.
    tempo_bpm : float
        The piece's own, in pulses a minute.

    Raises
    ------
    BriefError

    >>> tempo_ladder("80..95+5, 100%", 112)
    (80.0, 85.0, 90.0, 95.0, 112.0)
    """
    tempi = dict.fromkeys(
        tempo for item in text.split(",") for tempo in _tempi_of(item.strip(), tempo_bpm, text)
    )
    for tempo in tempi:
        if not SLOWEST_BPM <= tempo <= FASTEST_BPM:
            raise BriefError(
                f"`tempi` {text!r}: {tempo:g} is too {'slow' if tempo < SLOWEST_BPM else 'fast'}; "
                f"{_WANTED}"
            )
    if len(tempi) > MOST_TEMPI:
        raise BriefError(f"`tempi` {text!r}: {len(tempi)} tempi; {MOST_TEMPI} are the most")
    return tuple(tempi)


def _tempi_of(item: str, tempo_bpm: float, text: str) -> Iterator[float]:
    if _NUMBER.fullmatch(item):
        yield float(item)
    elif share := _SHARE.fullmatch(item):
        yield float(round(tempo_bpm * float(share[1]) / 100))
    elif ladder := _LADDER.fullmatch(item):
        yield from _rungs(int(ladder[1]), int(ladder[2]), int(ladder[3] + ladder[4]), text)
    else:
        raise BriefError(f"`tempi` {text!r}: {_WANTED}")


def _rungs(first: int, last: int, step: int, text: str) -> Iterator[float]:
    """From the first to the last, which is not passed."""
    if step == 0 or (last - first) * step < 0:
        raise BriefError(f"`tempi` {text!r}: {first} does not reach {last} in steps of {step:+}")
    yield from map(float, range(first, last + (1 if step > 0 else -1), step))
