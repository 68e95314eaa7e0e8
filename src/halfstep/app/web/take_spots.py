"""Where is a finding heard? In the take, over its two bars; and as it could be, in its etude."""

from __future__ import annotations

import json
from collections.abc import Callable, Collection, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from halfstep.data.etude_json import StoredEtude, read_etude
from halfstep.data.told_json import ToldBar, ToldTake
from halfstep.errors import ReadError
from halfstep.lesson.student_words import StudentThing

BARS = 2
"""Heard of a spot: the bar before it and its own, or its own and the next where it is the first."""


@dataclass(frozen=True, slots=True)
class SpotSound:
    """A few bars of a sound.

    Attributes
    ----------
    from_s, to_s : float
        In its file.
    """

    from_s: float
    to_s: float


@dataclass(frozen=True, slots=True)
class ShownThing:
    """A thing to do next, as a page shows it.

    Attributes
    ----------
    number : int
        From 1.
    words : StudentThing
    sheet, sound : str
        Names of files; empty where there are none.
    in_take, as_could_be : SpotSound or None
        Its bars in the take, and in the sound of its etude.
    is_playable : bool
        Its etude can be opened in the practice room.
    """

    number: int
    words: StudentThing
    sheet: str
    sound: str
    in_take: SpotSound | None
    as_could_be: SpotSound | None
    is_playable: bool


def shown_things(
    told: ToldTake,
    data: dict[str, Any],
    made: Collection[str],
    loop_start: Callable[[str], float | None],
) -> Iterator[ShownThing]:
    """What is to be done next of a take that was heard.

    Parameters
    ----------
    told : ToldTake
    data : dict
        The feedback, as it is stored.
    made : collection of str
        The names of its files, as far as they are made.
    loop_start : callable
        Where in a sound of that name its bar 1 begins, in seconds; None where it does not say.
    """
    for number, (words, item) in enumerate(zip(told.things, data["next"], strict=True), start=1):
        names = (*item["files"], "", "")[:2]
        sheet, sound = (name if name in made else "" for name in names)
        etude = _etude_of(item)
        yield ShownThing(
            number,
            words,
            sheet,
            sound,
            _in_take(told.bars, item, data["findings"]),
            _as_could_be(etude, loop_start(sound), item) if sound and etude else None,
            etude is not None,
        )


def _in_take(
    bars: Sequence[ToldBar], item: dict[str, Any], findings: Sequence[dict[str, Any]]
) -> SpotSound | None:
    """The bars of a thing in the pass where it was found; None for one that leads further."""
    if not item["findings"]:
        return None
    passes = (one["pass"] for one in findings if one["fault"] and one["bar"] == item["bar"])
    place = (next(passes, 0), item["bar"])
    spots = [index for index, bar in enumerate(bars) if (bar.chorus, bar.bar) == place]
    if not spots or len(bars) < BARS:
        return None
    first = max(0, spots[0] - 1)
    starts = [bar.time_s for bar in bars]
    starts.append(2 * starts[-1] - starts[-2])  # where the last one ends, as long as its neighbour
    return SpotSound(starts[first], starts[min(first + BARS, len(bars))])


def _etude_of(item: dict[str, Any]) -> StoredEtude | None:
    """The etude that was written for a thing; None in feedback of an older release."""
    try:
        return read_etude(json.dumps(item["etude"]))
    except (KeyError, ReadError):
        return None


def _as_could_be(
    etude: StoredEtude, start_s: float | None, item: dict[str, Any]
) -> SpotSound | None:
    """The same bars in the sound of the etude that was written for them."""
    if start_s is None or item["bar"] not in item["bars"]:
        return None
    first = max(0, item["bars"].index(item["bar"]) - 1)
    first_beat, end_beat = _beats_between(etude, first, first + BARS)
    quarter_s = 60 / (etude.tempo_bpm * float(etude.chart.meter.tempo_beats))
    return SpotSound(
        round(start_s + float(first_beat) * quarter_s, 3),
        round(start_s + float(end_beat) * quarter_s, 3),
    )


def _beats_between(etude: StoredEtude, first: int, end: int) -> tuple[Fraction, Fraction]:
    """Where a bar begins, counted from 0, and another one; quarter notes from bar 1."""
    starts = [start for _, start in etude.chart.placed()]
    starts.append(etude.chart.beats)
    return starts[first], starts[min(end, len(starts) - 1)]
