"""How does music go to another key, or to a player?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from halfstep.instruments import Instrument
from halfstep.part.written_music import Music, home_key_of, written
from halfstep.pitch import Interval, turn_of
from halfstep.progression.key import Key, key_of


def moved_to(music: Music, key: Key) -> Music:
    """A chart or lead sheet moved to another key by the smallest interval.

    Its own key is the stated one, or the one found. Asked for the other mode, it goes to
    the relative key with the same signature, so that ``C`` and ``Am`` put a minor chart in
    the same place.
    """
    return _moved_from(music, home_key_of(music), key)


def _moved_from(music: Music, home: Key, key: Key) -> Music:
    interval = interval_of_fifths(key.fifths - home.fifths)
    return replace(written(music, interval, home), key=home + interval)


def in_key(music: Music, key: Key) -> Music:
    """`moved_to`, with notices of what may surprise."""
    old = home_key_of(music)
    moved = _moved_from(music, old, key)
    new = home_key_of(moved)
    notices: tuple[str, ...] = tuple(
        _move_notices(old, new, wanted=key, stated=music.key is not None)
    )
    return replace(moved, notices=music.notices + notices)


def _move_notices(old: Key, new: Key, *, wanted: Key, stated: bool) -> Iterator[str]:
    if not stated:
        yield f"no key is stated; the chords were taken to be in {old}"
    if new != wanted:
        yield f"asked for {wanted}; the chart is now in {new}, with the same signature"
    if abs(new.fifths) > 6:
        twin = key_of(new.fifths - (12 if new.fifths > 0 else -12), mode=new.mode)
        yield f"{new} needs {new.signature}; {twin} sounds the same with {twin.signature}"


def interval_of_fifths(fifths: int) -> Interval:
    """The smallest interval that moves a name so far along the line of fifths.

    >>> interval_of_fifths(1), interval_of_fifths(-7)
    (Interval(letters=-3, semitones=-5), Interval(letters=0, semitones=-1))
    """
    if fifths < 0:  # so that the way back is the same way
        return -interval_of_fifths(-fifths)
    octaves, letters = divmod(4 * fifths, 7)
    semitones = 7 * fifths - 12 * octaves
    if semitones > 6:
        return Interval(letters - 7, semitones - 12)
    return Interval(letters, semitones)


def interval_for(home: Key, instrument: Instrument) -> Interval:
    """From concert up to a player's written pitch, in the spelling with fewer accidentals."""
    rise = instrument.rise
    written = home.fifths + rise.fifths
    if rise.fifths == 0 or -6 <= written <= 5:
        return rise
    return rise + turn_of(1 if written > 0 else -1)
