"""How does a wind player place a line over the band? Behind the beat, tongued and slurred.

In swung eighths the note on the beat comes late and the note off the beat does not, so a
soloist swings less than the ride. A tongued note is parted from the one before it, a
slurred one is not.

Conventions
-----------
- Tempi are quarter notes a minute; places are parts of a quarter.
- Starts move by `PlayedNote.late_s`, ends by `PlayedNote.longer_s`; beats stay as written.
- Triplets keep their thirds and are late with their beat.
- A line that says what is slurred is tongued as it says; of the other eighths as many are short
  as in all.

Source: on-beat notes late by about a tenth of a beat up to 220, then by 7 and 3 %, off-beat
notes at .60–.64, at .56–.59 when fast, an off-beat note clearly short in 19.1 % of cases and
an on-beat one in 7.9 %, all counted on the solo tables of a jazz research project (MIT
licence; Nelias et al. 2022 agree); 34.5 ms (5.8) of tongue on the reed: Hofmann & Goebl
2014. What is tongued, the lag below 80 and the spread are common practice, no source.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby
from operator import attrgetter
from random import Random

from halfstep.backing.band_time import near
from halfstep.meter import EIGHTH, Clock
from halfstep.played import PlayedNote, PlayedPart, Slur

_FAST_BPM, _FASTEST_BPM = 220.0, 260.0
_LAG_BEATS, _FAST_LAG_BEATS, _FASTEST_LAG_BEATS = 0.10, 0.07, 0.03
_LONGEST_LAG_S = 0.075
_OFF_BEAT, _FAST_OFF_BEAT = 0.62, 0.58
_TONGUE_S, _TONGUE_SPREAD_S = 0.0345, 0.0058
_LEAST_SOUNDING = 0.4
"""The share of its time that a note sounds at least, however long the tongue takes."""
_OFF_BEATS = (True,) * 4 + (False,) * 17
_ON_BEATS = (True,) * 3 + (False,) * 35
"""Short eighths among so many, as they are dealt: eight bars have as many of them as eighty."""
_SHORT_SHARES = (0.5, 0.68)
_LEAP = 8
"""A minor sixth and more is tongued."""


@dataclass(frozen=True, slots=True, kw_only=True)
class LineTime:
    """How a line is placed and tongued.

    Attributes
    ----------
    swung : bool
    lag_s : float
        How late everything is where nothing swings.
    tongued_part : Fraction or None
        The part of a beat whose notes are tongued; None slurs wherever it can be.
    clipped : bool
        Whether some eighths are short.
    """

    swung: bool
    lag_s: float = 0.0
    tongued_part: Fraction | None
    clipped: bool = True


SWUNG_LINE = LineTime(swung=True, tongued_part=EIGHTH)
EVEN_LINE = LineTime(swung=False, lag_s=0.008, tongued_part=Fraction(0))
LEGATO_LINE = LineTime(swung=True, tongued_part=None, clipped=False)

_SPREAD_S = 0.006


def line_in_time(
    part: PlayedPart, *, time: LineTime, clock: Clock, swings: bool, random: Random
) -> PlayedPart:
    """A line where a player puts it.

    Parameters
    ----------
    part : PlayedPart
        One note after another, none over the next, but for those that are struck at once.
    time : LineTime
    clock : Clock
        That of the band, against which notes are late.
    swings : bool
        Whether the metre has pairs, see `halfstep.meter.Meter.swings`.
    random : Random
    """
    swung = time.swung and swings
    lag_s = 0.0 if swung else time.lag_s
    strikes = [list(group) for _, group in groupby(part.notes, key=attrgetter("onset"))]
    firsts = [notes[0] for notes in strikes]
    starts_s = [
        _place_s(note.onset, clock, swung=swung) + lag_s + near(random, _SPREAD_S)
        for note in firsts
    ]
    ends_s = _ends_s(firsts, starts_s, clock, time, random)
    placed = (
        _moved(note, start_s, end_s, clock)
        for notes, start_s, end_s in zip(strikes, starts_s, ends_s, strict=True)
        for note in notes
    )
    return replace(part, notes=tuple(placed))


def _moved(note: PlayedNote, start_s: float, end_s: float, clock: Clock) -> PlayedNote:
    written_s = clock.seconds(note.onset)
    length_s = clock.seconds(note.onset + note.beats) - written_s
    return replace(note, late_s=start_s - written_s, longer_s=end_s - start_s - length_s)


def lag_beats(beats_per_minute: float) -> float:
    """How late a note on the beat is, in beats."""
    if beats_per_minute >= _FASTEST_BPM:
        return _FASTEST_LAG_BEATS
    share = _FAST_LAG_BEATS if beats_per_minute >= _FAST_BPM else _LAG_BEATS
    return min(share, _LONGEST_LAG_S * beats_per_minute / 60.0)


def _place_s(onset: Fraction, clock: Clock, *, swung: bool) -> float:
    """Where a soloist puts a place, in seconds after beat 0."""
    if not swung:
        return float(onset) * clock.beat_s
    lag = lag_beats(clock.beats_per_minute)
    whole, part = divmod(onset, 1)
    if part.denominator % 3 == 0:
        return float(onset + lag) * clock.beat_s
    fast = clock.beats_per_minute >= _FAST_BPM
    middle = _FAST_OFF_BEAT if fast else _OFF_BEAT
    if part <= EIGHTH:
        moved = lag + float(part) * 2 * (middle - lag)
    else:
        moved = middle + (float(part) * 2 - 1) * (1 + lag - middle)
    return (float(whole) + moved) * clock.beat_s


def _ends_s(
    notes: Sequence[PlayedNote],
    starts_s: Sequence[float],
    clock: Clock,
    time: LineTime,
    random: Random,
) -> Iterator[float]:
    """Where notes stop, which depends on how the next one begins."""
    shorts = _ShortEighths(random)
    for n, (note, start_s) in enumerate(zip(notes, starts_s, strict=True)):
        end = note.onset + note.beats
        following = notes[n + 1] if n + 1 < len(notes) else None
        if following is None or following.onset > end:
            yield start_s + clock.seconds(end) - clock.seconds(note.onset)
            continue
        room_s = starts_s[n + 1] - start_s
        slurred = note.slur is not None and Slur.INTO in note.slur
        if time.clipped and shorts.takes(note, slurred=slurred):
            yield start_s + room_s * random.uniform(*_SHORT_SHARES)
        elif _tongued(note, following, time):
            gap_s = _TONGUE_S + near(random, _TONGUE_SPREAD_S)
            yield start_s + max(room_s - gap_s, room_s * _LEAST_SOUNDING)
        else:
            yield start_s + room_s


class _ShortEighths:
    """Which eighths are short, of those off the beat more than of those on it."""

    def __init__(self, random: Random) -> None:
        self._random = random
        self._decks: dict[tuple[bool, ...], list[bool]] = {}
        self._due: Counter[tuple[bool, ...]] = Counter()

    def takes(self, note: PlayedNote, *, slurred: bool) -> bool:
        """Whether a note is short; one that is slurred on leaves it to the next of its kind."""
        if note.beats != EIGHTH:
            return False
        cards = _OFF_BEATS if note.onset % 1 == EIGHTH else _ON_BEATS
        deck = self._decks.setdefault(cards, [])
        if not deck:
            deck.extend(self._random.sample(cards, len(cards)))
        self._due[cards] += deck.pop()
        if slurred or not self._due[cards]:
            return False
        self._due[cards] -= 1
        return True


def _tongued(note: PlayedNote, following: PlayedNote, time: LineTime) -> bool:
    """Whether the tongue parts two notes that follow each other."""
    if note.slur is not None:
        return Slur.INTO not in note.slur
    if note.midi == following.midi or abs(note.midi - following.midi) >= _LEAP:
        return True
    return time.tongued_part is not None and following.onset % 1 == time.tongued_part
