"""Where do notes begin in a beat? Eight kinds, and which of them a level may have.

Conventions
-----------
- A kind is where notes begin, in parts of a beat. A beat without a note is one of them: the
  note before is held over it.
- Beginners have what stands on the beat. From intermediate a note may begin off the beat and
  be held over the next; the advanced have triplets and sixteenths beside that.
- In a beat of three eighths, and in one of two, a kind keeps what it is like: on the beat, off
  it, in equal notes, quick.

Source: the eight are all that there are in transcribed solos on a written grid, but for one
beat in a hundred, which is cut finer (`training/count_solos.py`). Who plays which is common
practice, no source.
"""

from fractions import Fraction

from halfstep.level import Level
from halfstep.meter import Feel

_E, _T, _S = Fraction(1, 2), Fraction(1, 3), Fraction(1, 4)
_ZERO = Fraction(0)
BEAT_KINDS: tuple[tuple[Fraction, ...], ...] = (
    (),
    (_ZERO,),
    (_E,),
    (_ZERO, _E),
    (_E, 3 * _S),
    (_ZERO, _T, 2 * _T),
    (_S, _E, 3 * _S),
    (_ZERO, _S, _E, 3 * _S),
)
HELD, QUARTER, OFF_BEAT, EIGHTHS, LATE_SIXTEENTHS, TRIPLET, THREE_SIXTEENTHS, SIXTEENTHS = range(8)
ALLOWED = {
    Level.BEGINNER: (HELD, QUARTER, EIGHTHS),
    Level.INTERMEDIATE: (HELD, QUARTER, OFF_BEAT, EIGHTHS),
    Level.ADVANCED: tuple(range(8)),
}
SHORTEST_S = 0.08
"""The shortest note that is asked of a player, in seconds; common practice, no source."""
_IN_THREE = {
    QUARTER: (_ZERO, 2 * _E),
    OFF_BEAT: (_E, 2 * _E),
    EIGHTHS: (_ZERO, _E, 2 * _E),
    LATE_SIXTEENTHS: (_E, 2 * _E, 5 * _S),
    TRIPLET: (_ZERO, _E, 2 * _E),
    THREE_SIXTEENTHS: (_S, _E, 2 * _E),
    SIXTEENTHS: (_ZERO, _S, _E, 2 * _E),
}
"""In a beat of three eighths, the notes of each kind."""


def kinds_allowed(level: Level, feel: Feel, beat_s: float) -> tuple[int, ...]:
    """The kinds of beat of a level, without those whose notes would be too short.

    Straight eighths have no triplets.

    Parameters
    ----------
    level : Level
    feel : Feel
    beat_s : float
        Seconds in a quarter.
    """
    shortest = {LATE_SIXTEENTHS: 4, TRIPLET: 3, THREE_SIXTEENTHS: 4, SIXTEENTHS: 4}
    return tuple(
        kind
        for kind in ALLOWED[level]
        if beat_s / shortest.get(kind, 2) >= SHORTEST_S or kind <= EIGHTHS
        if kind != TRIPLET or feel is Feel.SWING
    )


def begun_in(kind: int, beats: Fraction) -> tuple[Fraction, ...]:
    """Where the notes of a kind begin in a beat of so many quarters."""
    places = _IN_THREE.get(kind, ()) if beats == 3 * _E else BEAT_KINDS[kind]
    return tuple(at for at in places if at < beats)
