"""How does a take stand on the player's staff? In sixteenths, in bars, under the chords.

Conventions
-----------
- The music begins where the form begins: after the count-in of the backing, when one was
  found; otherwise with its first note, on the grid of sixteenths that fits the onsets best.
- Bars and chords are those of the chart, as often as the take goes on; without a chart the
  bars have four quarters.
- Of notes on one sixteenth the longest stays. How a heard length is written is common
  practice, no source.
"""

from __future__ import annotations

import cmath
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, cycle, pairwise
from math import tau

from halfstep.harmony.analysis import analyse
from halfstep.instruments import INSTRUMENTS, Clef
from halfstep.listen.heard_take import HeardNote
from halfstep.meter import Meter
from halfstep.notation import lengths_at
from halfstep.part.chord_text import chord_text
from halfstep.part.take_part import WrittenTake
from halfstep.part.transposed_part import chords_in_bars, part_for
from halfstep.pitch import Pitch
from halfstep.score import Barline, ChordText, Mark, Score, ScoreBar, ScoreNote

_QUARTER = 4
"""Sixteenths in a quarter note."""
_JOINED = 1
"""A gap of so many sixteenths is articulation, no rest."""
_BASS_BELOW = 57


@dataclass(frozen=True, slots=True)
class _GridNote:
    """A note, or a rest without a pitch, in sixteenths from the start; what stands under it."""

    first: int
    end: int
    pitch: Pitch | None
    text: str = ""


@dataclass(frozen=True, slots=True)
class _BarFrame:
    """A bar without its notes: its metre and its chords."""

    meter: Meter
    chords: tuple[ChordText, ...] = ()

    @property
    def sixteenths(self) -> int:
        """Its length, a shorter rest of it rounded up."""
        return -int(-self.meter.bar_beats * _QUARTER // 1)


def no_text(_note: HeardNote) -> str:
    """Nothing under a note."""
    return ""


def written_score(
    written: WrittenTake, tempo_bpm: float, *, text: Callable[[HeardNote], str] = no_text
) -> tuple[Score, tuple[str, ...]]:
    """The take in sixteenths at a tempo, and what should be said of it.

    Parameters
    ----------
    written : WrittenTake
    tempo_bpm : float
        Quarter notes a minute.
    text : callable
        What stands under a note.
    """
    grid = _quantised(written, tempo_bpm, text)
    lost = len(written.notes) - len(grid)
    left_out = (
        f"{lost} of {len(written.notes)} notes fall on the sixteenth of a longer one at tempo "
        f"{tempo_bpm:g} and are left out; give the tempo of the take with `tempo_bpm`"
    )
    score = Score(
        title=written.title,
        label=written.player.label,
        key_fifths=written.fifths,
        mode="major",
        clef=_clef(written),
        rise=written.player.rise,
        program=written.player.program,
        tempo_bpm=tempo_bpm,
        swing=None,
        bars=tuple(_bars(grid, _frames(written))),
    )
    return score, (*written.notices, left_out) if lost else written.notices


def _clef(written: WrittenTake) -> Clef:
    midis = sorted(note.midi for note in written.take.notes)
    unknown = written.player is INSTRUMENTS["concert"]
    low = bool(midis) and midis[len(midis) // 2] < _BASS_BELOW
    return Clef.BASS if unknown and low else written.player.clef


# The grid


def _quantised(
    written: WrittenTake, tempo_bpm: float, text: Callable[[HeardNote], str]
) -> list[_GridNote]:
    """The notes on the grid; of those on one sixteenth the longest stays."""
    sixteenth_s = 15.0 / tempo_bpm
    start_s = _start_s(written, sixteenth_s)
    longest: dict[int, tuple[HeardNote, Pitch]] = {}
    for note, pitch in zip(written.notes, written.pitches()[written.early :], strict=True):
        place = max(0, round((note.onset_s - start_s) / sixteenth_s))
        if place not in longest or _length_s(note) > _length_s(longest[place][0]):
            longest[place] = (note, pitch)
    placed = sorted(longest.items())
    grid = []
    following = [place for place, _ in placed[1:]] + [None]
    for (place, (note, pitch)), after in zip(placed, following, strict=True):
        end = max(place + 1, round((note.offset_s - start_s) / sixteenth_s))
        if after is not None and end >= after - _JOINED:
            end = after
        grid.append(_GridNote(place, end, pitch, text(note)))
    return grid


def _length_s(note: HeardNote) -> float:
    return note.offset_s - note.onset_s


def _start_s(written: WrittenTake, sixteenth_s: float) -> float:
    """Where in the recording bar 1 begins."""
    if written.form_s is not None:
        return written.form_s
    notes = written.take.notes
    if not notes:
        return 0.0
    first_s = notes[0].onset_s
    turns = sum(cmath.exp(1j * tau * (n.onset_s - first_s) / sixteenth_s) for n in notes)
    return first_s + cmath.phase(turns) / tau * sixteenth_s


# Bars


def _frames(written: WrittenTake) -> Iterator[_BarFrame]:
    """The bars that the take lies in, without end."""
    if written.chart is None:
        return cycle([_BarFrame(Meter(4, 4))])
    part = part_for(analyse(written.chart), written.player)
    return cycle(
        [
            _BarFrame(bar.meter, tuple(chord_text(part.symbol(n), at) for at, n in chords))
            for bar, _, chords in chords_in_bars(part.analysis)
        ]
    )


def _bars(grid: Sequence[_GridNote], frames: Iterator[_BarFrame]) -> list[ScoreBar]:
    """Bars up to the one in which the last note ends."""
    end = max((note.end for note in grid), default=1)
    start, places = 0, []
    while start < end:
        frame = next(frames)
        places.append((start, frame))
        start += frame.sixteenths
    whole = _with_rests(grid, start)
    reached, bars = 0, []
    for number, (begin, frame) in enumerate(places, start=1):
        while whole[reached].end <= begin:
            reached += 1
        barline = Barline.FINAL if number == len(places) else Barline.SINGLE
        notes = tuple(_notes_in_bar(whole[reached:], frame, begin))
        bars.append(ScoreBar(number, frame.meter, notes, chords=frame.chords, barline=barline))
    return bars


def _with_rests(grid: Sequence[_GridNote], end: int) -> list[_GridNote]:
    """The notes with rests between them, up to the last bar line."""
    edges = [_GridNote(0, 0, None), *grid, _GridNote(end, end, None)]
    pairs = (
        (note, _GridNote(note.end, following.first, None)) for note, following in pairwise(edges)
    )
    return [note for note in chain.from_iterable(pairs) if note.end > note.first]


def _notes_in_bar(notes: Sequence[_GridNote], frame: _BarFrame, begin: int) -> Iterator[ScoreNote]:
    for note in notes:
        if note.first >= begin + frame.sixteenths:
            return
        yield from _pieces_in_bar(note, frame, begin)


def _pieces_in_bar(note: _GridNote, frame: _BarFrame, begin: int) -> Iterator[ScoreNote]:
    """The piece of a note or rest in a bar, cut and tied as it is written."""
    first, last = max(note.first, begin), min(note.end, begin + frame.sixteenths)
    beats, at = Fraction(last - first, _QUARTER), Fraction(first - begin, _QUARTER)
    if note.pitch is None and last - first == frame.sixteenths:
        yield ScoreNote(None, beats)
        return
    lengths = lengths_at(frame.meter, at, beats, rest=note.pitch is None)
    goes_on = [*[True] * (len(lengths) - 1), note.end > last]
    for place, (length, tied) in enumerate(zip(lengths, goes_on, strict=True)):
        mark = Mark.TIE if tied and note.pitch else Mark.NONE
        struck = place == 0 and first == note.first
        yield ScoreNote(note.pitch, length, mark, note.text if struck else "")
