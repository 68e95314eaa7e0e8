"""How is a chart or a lead sheet written in another key, chord by chord?

Every chord of a page has one spelling, that of the first time it is played. The melody and
the key changes of a sheet stand on the side of the chords they belong to.
"""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple, TypeVar

from halfstep.errors import ReadError
from halfstep.harmony.home_key import home_key
from halfstep.harmony.local_keys import local_keys
from halfstep.part.spelling import KeyedChord, Side, near_key, sides, turns_near
from halfstep.pitch import UNISON, Interval, Name, Pitch, practical_pitch, turn_of
from halfstep.progression.chart import Chart, ChordAt, Span, spans
from halfstep.progression.form import MOST_BARS_GIVEN, has_pickup, page_number, played
from halfstep.progression.key import Key
from halfstep.progression.sheet import NO_MARKS, LeadSheet, SheetNote, WrittenBar

Music = TypeVar("Music", Chart, LeadSheet)

PagePlace = tuple[int, Fraction, Name]
"""The number of a bar on its page, a beat in it, and the root that was typed there."""


def home_key_of(music: Chart | LeadSheet) -> Key:
    """The stated key, or the one that explains the chords best."""
    return music.key or home_key(spans(_as_played(music)))


def written(music: Music, interval: Interval, home: Key) -> Music:
    """A chart or lead sheet an interval higher, on the sides where it reads best.

    What does not move along the line of fifths stays as it was typed.

    Parameters
    ----------
    music : Chart or LeadSheet
    interval : Interval
    home : Key
        As in `home_key_of`.
    """
    if interval.fifths == 0:
        return music.moved(interval)
    chart = _as_played(music)
    chords = spans(chart)
    if not chords:
        return _Move(interval, home + interval, {}).of(music)
    keyed = [
        KeyedChord(span.symbol, key)
        for span, key in zip(chords, local_keys(chords, home), strict=True)
    ]
    page = page_turns(chart, chords, sides(keyed, home, interval))
    return _Move(interval, home + interval, page).of(music)


def in_concert(sheet: LeadSheet) -> LeadSheet:
    """A sheet that was read from a transposed part, on the sides where concert reads best.

    What the interval alone gives was spelled for the player: in B major an alto's A7 is a C7,
    no B♯7.
    """
    if sheet.part_rise.fifths == 0:
        return sheet
    part = replace(sheet.moved(sheet.part_rise), part_rise=UNISON)
    return written(part, -sheet.part_rise, home_key_of(part))


def page_turns(
    chart: Chart, chords: Iterable[Span], chord_sides: Iterable[Side]
) -> dict[PagePlace, int]:
    """The turn of each chord on the page, as the first time it is played.

    Parameters
    ----------
    chart : Chart
    chords : iterable of Span
        Its chords.
    chord_sides : iterable of Side
        How each of them is written.
    """
    starts = [span.start for span in chords]
    turns = [side.turns for side in chord_sides]
    first: dict[PagePlace, int] = {}
    for bar, start in chart.placed():
        for chord in bar.chords if bar.number >= 1 else ():
            place = bar.written, chord.at, chord.symbol.root
            first.setdefault(place, turns[bisect_right(starts, start + chord.at) - 1])
    return first


def _as_played(music: Chart | LeadSheet) -> Chart:
    """The bars in the order of playing; in that of the page where they would be too many."""
    if isinstance(music, Chart):
        return music
    try:
        return played(music)
    except ReadError:
        straight = tuple(bar._replace(marks=NO_MARKS) for bar in music.bars)
        return played(replace(music, bars=straight), limit=MOST_BARS_GIVEN)


class _Move(NamedTuple):
    """A move of a page.

    Attributes
    ----------
    interval : Interval
    home : Key
        Where it goes.
    turns : mapping of PagePlace to int
    """

    interval: Interval
    home: Key
    turns: Mapping[PagePlace, int]

    def of(self, music: Music) -> Music:
        """The chart or sheet, moved."""
        key = self.home if music.key else None
        if isinstance(music, Chart):
            chart_bars = tuple(
                bar._replace(chords=self._chords(bar.chords, bar.written)) for bar in music.bars
            )
            return replace(music, bars=chart_bars, key=key)
        return replace(music, bars=tuple(self._bars(music.bars)), key=key)

    def _bars(self, bars: tuple[WrittenBar, ...]) -> Iterator[WrittenBar]:
        first = int(not has_pickup(bars))
        turns, tied = 0, None
        for place, bar in enumerate(bars):
            number = page_number(bar, place + first)
            notes, turns, tied = self._notes(bar, number, turns, tied)
            yield bar._replace(
                chords=self._chords(bar.chords, number),
                notes=notes,
                key=near_key(bar.key + self.interval, self.home) if bar.key else None,
            )

    def _chords(self, chords: Iterable[ChordAt], number: int) -> tuple[ChordAt, ...]:
        return tuple(
            chord.moved(self.interval + turn_of(self._turns(chord, number))) for chord in chords
        )

    def _turns(self, chord: ChordAt, number: int) -> int:
        """The turn of a chord; one that is never played turns by itself."""
        root = chord.symbol.root
        turns = self.turns.get((number, chord.at, root))
        return turns_near(root + self.interval, self.home) if turns is None else turns

    def _notes(
        self, bar: WrittenBar, number: int, turns: int, tied: Pitch | None
    ) -> tuple[tuple[SheetNote, ...], int, Pitch | None]:
        """The melody of a bar, the turn at its end, and the pitch that is tied over it."""
        chords = [(chord.at, self._turns(chord, number)) for chord in bar.chords]
        notes = []
        for note in bar.notes:
            turns = next((turn for at, turn in reversed(chords) if at <= note.at), turns)
            pitch = tied or practical_pitch(note.pitch + self.interval + turn_of(turns))
            tied = pitch if note.tied else None
            notes.append(note._replace(pitch=pitch))
        return tuple(notes), chords[-1][1] if chords else turns, tied
