"""What is asked of a lesson."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import TypeVar

from halfstep.harmony.locality import home_key
from halfstep.instruments import INSTRUMENTS, Instrument, Level
from halfstep.pitch import Interval
from halfstep.progression.chart import Chart, Feel, spans
from halfstep.progression.form import played
from halfstep.progression.key import Key, key_of
from halfstep.progression.sheet import LeadSheet

Music = TypeVar("Music", Chart, LeadSheet)

TEMPO_BPM = {Level.BEGINNER: 84.0, Level.INTERMEDIATE: 112.0, Level.ADVANCED: 144.0}
"""Pulses a minute where neither the chart nor the teacher says; common practice."""


@dataclass(frozen=True, slots=True)
class LessonBrief:
    """A request for a lesson.

    Attributes
    ----------
    chart : Chart
    instruments : tuple of Instrument
        One part each.
    steps : tuple of int
    level : Level
    tempo_bpm : float or None
        Pulses a minute; None takes the chart's, or the level's.
    feel : Feel or None
        None takes the chart's, or swing.
    seed : int
    players : tuple of (str, str)
        Instrument key and the names printed on its handout.
    """

    chart: Chart
    instruments: tuple[Instrument, ...] = (INSTRUMENTS["concert"],)
    steps: tuple[int, ...] = (1, 2, 3, 4, 5, 6)
    level: Level = Level.INTERMEDIATE
    tempo_bpm: float | None = None
    feel: Feel | None = None
    seed: int = 1
    players: tuple[tuple[str, str], ...] = ()

    @property
    def pulses_a_minute(self) -> float:
        """The tempo that is used."""
        return self.tempo_bpm or self.chart.tempo_bpm or TEMPO_BPM[self.level]

    @property
    def eighths(self) -> Feel:
        """The feel that is used; metres counted in eighths are straight."""
        if not self.chart.meter.swings:
            return Feel.STRAIGHT
        return self.feel or self.chart.feel or Feel.SWING


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
