"""How does an etude stand on the staff of one player?

A note is cut and tied where a bar line, a length or the beat needs it; rests that follow
each other are one.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import groupby, takewhile

from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.touches import UNTOUCHED, Touch, touches
from halfstep.etude.written_ending import WrittenEnding
from halfstep.meter import Feel
from halfstep.notation import lengths_at
from halfstep.part.chord_text import chord_text
from halfstep.part.places import end_of_chart_bar
from halfstep.part.transposed_part import Part, chords_in_bars
from halfstep.progression.chart import Bar
from halfstep.road_words import LAST_TIME
from halfstep.score import Barline, ChordText, Mark, Road, Score, ScoreBar, ScoreNote

_Touches = Mapping[Fraction, Touch]
"""How the notes of a line are touched, by their onsets."""

_LEADING = {
    Approach.NONE: Mark.NONE,
    Approach.SCALE: Mark.LEADS,
    Approach.CHROMATIC: Mark.LEADS_CHROMATIC,
    Approach.ENCLOSURE: Mark.ENCLOSES,
}


def score_of(
    etude: EtudeLine, part: Part, *, title: str, feel: Feel, degrees: bool = False
) -> Score:
    """An etude as a player's part, with the notes' degrees where they are asked for."""
    line = (*etude.pickup, *etude.notes)
    part = part.of_line(line)
    touched = {n.onset: touch for n, touch in zip(etude.every_note, touches(etude), strict=True)}
    ends = [note.end for note in line]
    chart = etude.analysis.chart
    bars = list(_pickup_bars(etude.pickup, part, touched, degrees=degrees))
    for bar, start, written in chords_in_bars(etude.analysis):
        texts = tuple(chord_text(part.symbol(chord), at) for at, chord in written)
        notes = line[bisect_right(ends, start) :]
        bars.append(
            ScoreBar(
                bar.number,
                bar.meter,
                tuple(_notes_in_bar(notes, part, bar, start, touched, degrees=degrees)),
                chords=texts,
                barline=end_of_chart_bar(chart, bar),
                road=Road(section=bar.section),
            )
        )
    if etude.ending:
        bars[-1] = replace(bars[-1], barline=Barline.DOUBLE)
        bars.append(_ending_bar(etude.ending, part, touched, degrees=degrees))
    instrument = part.instrument
    return Score(
        title=title,
        label=instrument.label,
        key_fifths=part.key.fifths,
        mode=part.key.mode,
        clef=etude.brief.instrument.clef,
        rise=part.interval,
        program=instrument.program,
        tempo_bpm=etude.brief.tempo_bpm,
        swing=feel is Feel.SWING,
        bars=tuple(bars),
    )


def _ending_bar(ending: WrittenEnding, part: Part, touched: _Touches, *, degrees: bool) -> ScoreBar:
    """The bar at home, after a double bar and marked as what it is."""
    home = part.symbol(ending.note.chord).on_its_root
    notes = _notes_in_bar([ending.note], part, ending.bar, ending.start, touched, degrees=degrees)
    return ScoreBar(
        ending.bar.number,
        ending.bar.meter,
        tuple(notes),
        chords=(chord_text(home, Fraction(0)),),
        barline=Barline.FINAL,
        road=Road(signs=(LAST_TIME,)),
    )


def _pickup_bars(
    pickup: Sequence[EtudeNote], part: Part, touched: _Touches, *, degrees: bool
) -> Iterator[ScoreBar]:
    """The bar before bar 1 under its chords: silent where the line begins with the form."""
    chart = part.analysis.chart
    bars = [bar for bar in chart.bars if bar.number < 1]
    beats = max([bar.beats for bar in bars] + [-note.onset for note in pickup[:1]], default=None)
    if beats is None:
        return
    if not pickup or -pickup[0].onset < beats:
        pickup = (EtudeNote(-beats, beats + (pickup[0].onset if pickup else 0), None, 0), *pickup)
    whole = Bar(0, chart.form[0].meter, chart.form[0].meter.bar_beats, (), 0)
    chords = (
        replace(text, at=text.at + beats - bar.beats)
        for bar in bars
        for text in pickup_chords(part, bar)
    )
    notes = _notes_in_bar(pickup, part, whole, -whole.beats, touched, degrees=degrees)
    yield ScoreBar(0, whole.meter, tuple(notes), chords=tuple(chords))


def pickup_chords(part: Part, bar: Bar) -> tuple[ChordText, ...]:
    """The written chords of a bar before bar 1, which the analysis leaves out."""
    return tuple(chord_text(part.symbol_elsewhere(chord.symbol), chord.at) for chord in bar.chords)


def _notes_in_bar(
    notes: Sequence[EtudeNote],
    part: Part,
    bar: Bar,
    start: Fraction,
    touched: _Touches,
    *,
    degrees: bool,
) -> Iterator[ScoreNote]:
    """The notes up to a bar line, cut and tied where a length or the beat needs it."""
    end = start + bar.beats
    for note in _joined_rests(takewhile(lambda note: note.onset < end, notes)):
        first, last = max(note.onset, start), min(note.end, end)
        pitch = part.pitch(note)
        touch = touched.get(note.onset, UNTOUCHED)
        silent_bar = pitch is None and (first, last) == (start, end)
        lengths: tuple[Fraction, ...] = (end - start,)
        if not silent_bar:
            lengths = lengths_at(bar.meter, first - start, last - first, rest=pitch is None)
        for place, length in enumerate(lengths):
            closing = place == len(lengths) - 1 and note.end <= end
            marks = Mark.NONE
            if pitch and not closing:
                marks |= Mark.TIE
            if note.breath and closing:
                marks |= Mark.BREATH
            struck = place == 0 and first == note.onset
            if struck:
                marks |= _LEADING[note.approach]
            marks |= _touch_of_piece(touch.marks, struck=struck, closing=closing)
            if note.changing and struck:
                marks |= Mark.CHANGING
            degree = str(note.degree) if degrees and struck and note.degree else ""
            dynamic = touch.dynamic if struck else None
            yield ScoreNote(pitch, length, marks, degree, dynamic, part.below(note))


def _touch_of_piece(marks: Mark, *, struck: bool, closing: bool) -> Mark:
    """The marks of a piece of a note: a slur from each, a fall from the last, else the first's."""
    piece = marks & Mark.SLUR
    if closing:
        piece |= marks & Mark.FALL
    return piece | (marks & ~(Mark.SLUR | Mark.FALL)) if struck else piece


def _joined_rests(notes: Iterable[EtudeNote]) -> Iterator[EtudeNote]:
    """The notes, with rests that follow each other made one."""
    for silent, group in groupby(notes, key=lambda note: note.pitch is None):
        if silent:
            rests = list(group)
            yield rests[0]._replace(beats=rests[-1].end - rests[0].onset)
        else:
            yield from group
