"""In which key does music stand, and how does it go to another?"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import TypeVar

from halfstep.harmony.home_key import home_key
from halfstep.instruments import Instrument
from halfstep.pitch import DIMINISHED_SECOND, Interval, Name
from halfstep.progression.chart import Chart, spans
from halfstep.progression.form import played
from halfstep.progression.key import Key, key_of
from halfstep.progression.sheet import LeadSheet

Music = TypeVar("Music", Chart, LeadSheet)


def key_found(music: Chart | LeadSheet) -> Key:
    """The stated key, or the one that explains the chords best."""
    return music.key or home_key(spans(music if isinstance(music, Chart) else played(music)))


def moved_to(music: Music, key: Key) -> Music:
    """A chart or lead sheet moved to another key by the smallest interval.

    Its own key is the stated one, or the one found. Asked for the other mode, it goes to
    the relative key with the same signature, so that ``C`` and ``Am`` put a minor chart in
    the same place. Every spelling moves along, so that there and back again is the same.
    """
    own: Key = key_found(music)
    interval = interval_of_fifths(key.fifths - own.fifths)
    now: Key = own + interval
    return replace(music.moved(interval), key=now)


def in_key(music: Music, key: Key) -> Music:
    """`moved_to`, with notices of what may surprise."""
    moved = moved_to(music, key)
    own: Key = key_found(music)
    now: Key = key_found(moved)
    said: tuple[str, ...] = tuple(_about_move(own, now, asked=key, stated=music.key is not None))
    return replace(moved, notices=music.notices + said)


def _about_move(own: Key, now: Key, *, asked: Key, stated: bool) -> Iterator[str]:
    if not stated:
        yield f"no key is stated; the chords were taken to be in {own}"
    if now != asked:
        yield f"asked for {asked}; the chart is now in {now}, with the same signature"
    if abs(now.fifths) > 6:
        other = key_of(now.fifths - (12 if now.fifths > 0 else -12), mode=now.mode)
        yield f"{now} needs {now.signature}; {other} sounds the same with {other.signature}"


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


def turn_of(turns: int) -> Interval:
    """A diminished second up for a turn to flats, down for one to sharps."""
    return Interval(DIMINISHED_SECOND.letters * turns, DIMINISHED_SECOND.semitones * turns)


def turn_for(root: Name) -> Interval:
    """The turn that frees a root of its double sign."""
    return turn_of(1 if root.alteration > 1 else -1 if root.alteration < -1 else 0)
