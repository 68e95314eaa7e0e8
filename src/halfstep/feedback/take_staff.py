"""How does a take stand on its player's staff, as it was played over the form?

Notes stand on the places that they were meant on, so swing and lag are not written; the form
comes round as often as the take goes on, each time under its chords.

Conventions
-----------
- A beat is written in sixteenths or in triplets, whichever most of its notes stand on; of
  notes on one place of that grid the longest stays. Two beats whose notes stand on the thirds
  of both together are a triplet of quarters.
- A gap shorter than `JOINED` is articulation, no rest.

Source: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import groupby, pairwise

from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.meter import Feel
from halfstep.notation import lengths_at
from halfstep.part.chord_text import chord_text
from halfstep.part.transposed_part import chords_in_bars
from halfstep.pitch import Pitch
from halfstep.score import Barline, ChordText, Mark, Road, Score, ScoreBar, ScoreNote

JOINED = Fraction(3, 8)
"""Quarter notes."""
_THIRDS = (Fraction(1, 3), Fraction(1, 6))
_LONG_THIRDS = {Fraction(0), Fraction(2, 3)}
_ORDINALS = {1: "1st", 2: "2nd", 3: "3rd"}


_NamedNote = tuple[TakeNote, Pitch]


@dataclass(frozen=True, slots=True)
class TakeStaff:
    """A take on a staff.

    Attributes
    ----------
    score : Score
    starts : tuple of Fraction
        Where each bar of the score begins, in quarter notes from bar 1 of the first pass.
    lost : int
        Notes that are too close together to be written.
    """

    score: Score
    starts: tuple[Fraction, ...]
    lost: int


@dataclass(frozen=True, slots=True)
class _StaffNote:
    """A note, or a rest without a pitch, in quarter notes."""

    start: Fraction
    end: Fraction
    pitch: Pitch | None = None


@dataclass(frozen=True, slots=True)
class _StaffBar:
    """A bar of the score without its notes, and where it begins."""

    bar: ScoreBar
    start: Fraction
    beats: Fraction

    @property
    def end(self) -> Fraction:
        return self.start + self.beats


@dataclass(frozen=True, slots=True)
class TripletCuts:
    """Where triplets are cut: at each beat, but for those within a triplet of quarters.

    Attributes
    ----------
    cell : Fraction
        The length of a beat, in quarter notes.
    spanned : frozenset of Fraction
        The beats within such triplets.
    """

    cell: Fraction
    spanned: frozenset[Fraction]

    def after(self, place: Fraction) -> Fraction:
        """The first behind a place."""
        beat = (place // self.cell + 1) * self.cell
        return beat + self.cell if beat in self.spanned else beat

    def before(self, place: Fraction) -> Fraction:
        """The last before a place that is on no beat."""
        beat = place // self.cell * self.cell
        return beat - self.cell if beat in self.spanned else beat


def take_staff(take: JudgedTake, pitches: Sequence[Pitch], *, title: str) -> TakeStaff:
    """The take as its player reads it.

    Parameters
    ----------
    take : JudgedTake
    pitches : sequence of Pitch
        The written ones of its notes.
    title : str
    """
    notes = _written_notes(take, pitches)
    frames = list(_frames(take, notes))
    cuts = TripletCuts(take.form.cell, _spanned(notes, take.form.cell))
    bars = [replace(f.bar, notes=tuple(_in_bar(notes, f, cuts))) for f in frames]
    bars[-1] = replace(bars[-1], barline=Barline.FINAL)
    instrument = take.part.instrument
    score = Score(
        title=title,
        label=instrument.label,
        key_fifths=take.part.key.fifths,
        mode=take.part.key.mode,
        clef=instrument.clef,
        rise=take.part.interval,
        program=instrument.program,
        tempo_bpm=_pulses_a_minute(take),
        swing=take.feel is Feel.SWING,
        bars=tuple(bars),
    )
    struck = sum(note.pitch is not None for note in notes)
    return TakeStaff(score, tuple(frame.start for frame in frames), len(take.notes) - struck)


def _pulses_a_minute(take: JudgedTake) -> float:
    """The tempo of the take's clock, in pulses."""
    return round(60 / take.clock.quarter_s / float(take.chart.meter.pulse_beats), 1)


# Notes


def _written_notes(take: JudgedTake, pitches: Sequence[Pitch]) -> list[_StaffNote]:
    """The notes on their grid, without rests; one after another."""
    cell = take.form.cell
    placed: dict[Fraction, _NamedNote] = {}
    named = zip(take.notes, pitches, strict=True)
    for number, group in groupby(named, key=lambda pair: pair[0].place // cell):
        inside = list(group)
        places = _on_grid([note for note, _ in inside], number * cell, cell)
        for place, pair in zip(places, inside, strict=True):
            if place not in placed or pair[0].beats > placed[place][0].beats:
                placed[place] = pair
    return list(_lasting(take, sorted(placed.items(), key=lambda item: item[0])))


def _on_grid(notes: Sequence[TakeNote], start: Fraction, cell: Fraction) -> list[Fraction]:
    """The places of the notes of a cell, in sixteenths or in triplets."""
    even = [_nearest(note.place, start, max(cell / 4, Fraction(1, 4)), cell) for note in notes]
    thirds = [_nearest(note.place, start, unit * cell, cell) for unit in _THIRDS for note in notes]
    grids = (even, thirds[: len(notes)], *([thirds[len(notes) :]] if cell == 1 else []))
    return min(grids, key=lambda grid: (_misses(notes, grid), grids.index(grid)))


def _misses(notes: Sequence[TakeNote], places: Sequence[Fraction]) -> tuple[int, Fraction]:
    """How many notes are lost on a grid, and how far the others are moved."""
    away = (abs(note.place - place) for note, place in zip(notes, places, strict=True))
    return len(notes) - len(set(places)), sum(away, Fraction(0))


def _nearest(place: Fraction, start: Fraction, unit: Fraction, cell: Fraction) -> Fraction:
    """The nearest place on a grid that lies in the same cell."""
    return start + min(round((place - start) / unit) * unit, cell - unit)


def _lasting(
    take: JudgedTake, placed: Sequence[tuple[Fraction, _NamedNote]]
) -> Iterator[_StaffNote]:
    """The notes with their ends: at the next one, or where they are let go."""
    following = [*(place for place, _ in placed), None][1:]
    in_thirds = {place // take.form.cell for place, _ in placed if place.denominator % 3 == 0}
    for (place, (note, pitch)), after in zip(placed, following, strict=True):
        end = _let_go(place, note, take.form.cell, in_thirds)
        if after is not None and end > after - JOINED:
            end = after
        yield _StaffNote(place, end, pitch)


def _let_go(place: Fraction, note: TakeNote, cell: Fraction, in_thirds: set[int]) -> Fraction:
    """Where a note ends, on the grid of that beat."""
    sounding = place + Fraction(note.beats).limit_denominator(96)
    thirds = sounding // cell in in_thirds
    unit = cell / 3 if thirds else Fraction(1, 2) if note.beats > 0.4 else Fraction(1, 4)
    end = round(sounding / unit) * unit
    if end <= place:
        end = (place // unit + 1) * unit
    return end


def _spanned(notes: Iterable[_StaffNote], cell: Fraction) -> frozenset[Fraction]:
    """The beats within triplets of quarters: all begins and ends on thirds of the two around it."""
    by_beat: defaultdict[Fraction, set[Fraction]] = defaultdict(set)
    for note in notes if cell == 1 else ():
        for place in (note.start, note.end):
            by_beat[Fraction(place // 1)].add(place % 1)
    return frozenset(
        beat
        for beat, inside in by_beat.items()
        if inside == {Fraction(1, 3)} and by_beat.get(beat - 1, {cell}) <= _LONG_THIRDS
    )


# Bars


def _frames(take: JudgedTake, notes: Sequence[_StaffNote]) -> Iterator[_StaffBar]:
    """The bars from the first note, or bar 1, to the end of the last note."""
    first = min(Fraction(0), notes[0].start) if notes else Fraction(0)
    end = max((note.end for note in notes), default=Fraction(1))
    form = list(_form(take))
    length = take.chart.beats
    if first < 0:
        yield from _before(form, first, length)
    chorus = _first_pass(notes, length)
    while True:
        for frame in form:
            start = chorus * length + frame.start
            if start >= end and start > 0:
                return
            yield replace(frame, start=start, bar=_of_pass(frame.bar, chorus, end > length))
        chorus += 1


def _first_pass(notes: Sequence[_StaffNote], length: Fraction) -> int:
    """The pass in which the first note ends: passes of rest before it are not printed."""
    return max(0, int(notes[0].end // length)) if notes else 0


def _of_pass(bar: ScoreBar, chorus: int, is_one_of_many: bool) -> ScoreBar:
    """A bar as it stands in a pass; the first one says which pass it is."""
    if bar.number != 1 or not is_one_of_many:
        return bar
    name = f"{_ORDINALS.get(chorus + 1, f'{chorus + 1}th')} time"
    section = f"{bar.road.section} · {name}" if bar.road.section else name
    return replace(bar, road=Road(section=section))


def _before(form: Sequence[_StaffBar], first: Fraction, length: Fraction) -> Iterator[_StaffBar]:
    """What is played before bar 1: whole bars of the form before it, the first of them cut."""
    last = form[-1]
    start = last.start - length
    bars = [last]
    while start > first:
        last = form[len(form) - 1 - len(bars) % len(form)]
        start -= last.beats
        bars.append(last)
    for frame in reversed(bars):
        bar = ScoreBar(0, frame.bar.meter, ())
        yield _StaffBar(bar, start, frame.beats)
        start += frame.beats


def _form(take: JudgedTake) -> Iterator[_StaffBar]:
    form = take.chart.form
    for bar, start, written in chords_in_bars(take.part.analysis):
        chords: Iterable[ChordText] = (chord_text(take.part.symbol(n), at) for at, n in written)
        last = bar is form[-1]
        frame = ScoreBar(
            bar.number,
            bar.meter,
            (),
            chords=tuple(chords),
            barline=Barline.DOUBLE if last else Barline.SINGLE,
            road=Road(section=bar.section),
            irregular=bar.beats != bar.meter.bar_beats,
        )
        yield _StaffBar(frame, start, bar.beats)


def _in_bar(
    notes: Sequence[_StaffNote], frame: _StaffBar, cuts: TripletCuts
) -> Iterator[ScoreNote]:
    """The notes and rests of a bar, cut and tied as they are written."""
    inside = [note for note in notes if note.end > frame.start and note.start < frame.end]
    if not inside:
        yield ScoreNote(None, frame.beats)
        return
    for note in _with_rests(inside, frame):
        first, last = max(note.start, frame.start), min(note.end, frame.end)
        pieces = list(_pieces(frame, first, last, cuts, rest=note.pitch is None))
        goes_on = [*[True] * (len(pieces) - 1), note.end > last]
        for beats, tied in zip(pieces, goes_on, strict=True):
            yield ScoreNote(note.pitch, beats, Mark.TIE if tied and note.pitch else Mark.NONE)


def _with_rests(notes: Sequence[_StaffNote], frame: _StaffBar) -> Iterator[_StaffNote]:
    edges = [_StaffNote(frame.start, frame.start), *notes, _StaffNote(frame.end, frame.end)]
    for note, following in pairwise(edges):
        if note.end > note.start:
            yield note
        if following.start > note.end:
            yield _StaffNote(note.end, following.start)


def _pieces(
    frame: _StaffBar, first: Fraction, last: Fraction, cuts: TripletCuts, *, rest: bool
) -> Iterator[Fraction]:
    """A stretch of a bar as written lengths; what is in triplets is cut at the beat."""
    edges = [first, *_beat_cuts(first, last, cuts), last]
    for low, high in pairwise(edges):
        meter, at = frame.bar.meter, low - frame.start
        if _is_even(low) and _is_even(high):
            yield from lengths_at(meter, at, high - low, rest=rest)
        else:
            yield from _in_triplets(high - low)


def _beat_cuts(first: Fraction, last: Fraction, cuts: TripletCuts) -> list[Fraction]:
    beats = set()
    if not _is_even(first):
        beats.add(cuts.after(first))
    if not _is_even(last):
        beats.add(cuts.before(last))
    return sorted(beat for beat in beats if first < beat < last)


def _is_even(place: Fraction) -> bool:
    return place.denominator % 3 != 0


_TRIPLET_LENGTHS = (Fraction(4, 3), Fraction(2, 3), Fraction(1, 3), Fraction(1, 6))


def _in_triplets(beats: Fraction) -> Iterator[Fraction]:
    while beats > 0:
        length = next(length for length in _TRIPLET_LENGTHS if length <= beats)
        yield length
        beats -= length
