"""How is a line edited? Each edit gives the notes of a new line, or says why it cannot be made.

Conventions
-----------
- What breaks a rule is no reason: `halfstep.etude.line_check` says it of the new line. Refused
  is only what cannot be written: a length that no note has, a note over a bar line that nothing
  is tied over, a pitch that no instrument here plays.
- A note moves within its chord, which it keeps; one whose time changes belongs to the chord that
  it begins in, or comes early to the next.
- Notes are spelled by their chord; their marks follow (`halfstep.etude.line_marks`).

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_left
from bisect import bisect_right as bisect
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from fractions import Fraction
from math import ceil
from typing import NamedTuple

from halfstep.etude.bar_rhythms import is_writable
from halfstep.etude.ending_choice import ending_after
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.line_edit import EditAction, EditRefused, LineEdit
from halfstep.etude.line_marks import chord_at, marked_line, pitched
from halfstep.etude.written_etude import Etude
from halfstep.harmony.analysis import AnalysedChord
from halfstep.meter import EIGHTH
from halfstep.progression.chart import Bar

_SIXTEENTH, _THIRD = Fraction(1, 4), Fraction(1, 3)
_OCTAVE = 12
Notes = tuple[EtudeNote, ...]


def edited(etude: Etude, edit: LineEdit) -> Etude:
    """The etude with one edit made.

    Raises
    ------
    EditRefused
        When it cannot be made; the message says what is in its way.
    """
    line = _Line(etude)
    notes = _ACTIONS[edit.action](line, edit)
    _demand_writable(line, notes)
    notes = marked_line(notes, etude)
    ending = ending_after(notes, etude.analysis, etude.brief) if etude.ending else None
    return replace(etude, notes=notes, ending=ending, notices=())


class _Line(NamedTuple):
    """A line that is edited."""

    etude: Etude

    @property
    def notes(self) -> Notes:
        """Its notes."""
        return self.etude.notes

    @property
    def bars(self) -> list[tuple[Bar, Fraction]]:
        """The bars of the form, and where they start."""
        return [(bar, start) for bar, start in self.etude.analysis.chart.placed() if bar.number]

    def place(self, edit: LineEdit) -> int:
        """The place of the note that an edit names."""
        places = [n for n, note in enumerate(self.notes) if note.onset == edit.at]
        if not places:
            raise EditRefused(f"no note or rest of the line begins at beat {edit.at}")
        return places[0]

    def note(self, edit: LineEdit) -> EtudeNote:
        """The note that an edit names; no rest."""
        note = self.notes[self.place(edit)]
        if note.pitch is None:
            raise EditRefused(f"{self.where(note)} is a rest; make a note of it first")
        return note

    def bar(self, at: Fraction) -> tuple[Bar, Fraction]:
        """The bar that a place lies in, and where that starts."""
        if not 0 <= at < self.etude.analysis.chart.beats:
            raise EditRefused(f"beat {at} lies outside the form")
        return self.bars[bisect([start for _, start in self.bars], at) - 1]

    def where(self, note: EtudeNote) -> str:
        """Its bar and its beat, in words."""
        bar, start = self.bar(note.onset)
        beat = (note.onset - start) / bar.meter.pulse_beats + 1
        return f"bar {bar.number}" + (f" beat {float(beat):g}" if beat != 1 else "")

    def ends_bar(self, note: EtudeNote) -> bool:
        """True for a note that sounds up to a bar line, or over one."""
        bar, start = self.bar(note.onset)
        return note.end >= start + bar.beats

    def put(self, place: int, new: Sequence[EtudeNote], *, count: int = 1) -> Notes:
        """The notes with others in the place of a few."""
        return (*self.notes[:place], *new, *self.notes[place + count :])

    def timed(self, note: EtudeNote, onset: Fraction, beats: Fraction) -> EtudeNote:
        """A note at another time, under the chord that it then belongs to."""
        note = note._replace(onset=onset, beats=beats)
        return note._replace(chord=chord_at(note, self.etude.analysis))


# Pitch


def _moved(choose: Callable[[EtudeNote, AnalysedChord], int]) -> Callable[[_Line, LineEdit], Notes]:
    """An edit that gives a note another pitch."""

    def edit_pitch(line: _Line, edit: LineEdit) -> Notes:
        note, place = line.note(edit), line.place(edit)
        midi = choose(note, line.etude.analysis.chords[note.chord])
        if not 0 <= midi <= 127:
            raise EditRefused(f"{line.where(note)}: no instrument here plays a note beyond that")
        return line.put(place, [pitched(note, midi, line.etude.analysis)])

    return edit_pitch


def _by(semitones: int) -> Callable[[EtudeNote, AnalysedChord], int]:
    return lambda note, _: _midi(note) + semitones


def _in_scale(way: int) -> Callable[[EtudeNote, AnalysedChord], int]:
    def next_of_scale(note: EtudeNote, chord: AnalysedChord) -> int:
        return _next(_midi(note), way, [] if chord.silent else chord.scale.pitch_classes)

    return next_of_scale


def _in_chord(way: int) -> Callable[[EtudeNote, AnalysedChord], int]:
    def next_of_chord(note: EtudeNote, chord: AnalysedChord) -> int:
        return _next(_midi(note), way, [tone.name.pitch_class for tone in chord.tones])

    return next_of_chord


def _next(midi: int, way: int, classes: Iterable[int]) -> int:
    """The next note of some pitch classes in a direction; a half step where there are none."""
    wanted = set(classes) or set(range(12))
    return next(m for m in range(midi + way, midi + 13 * way, way) if m % 12 in wanted)


def _midi(note: EtudeNote) -> int:
    assert note.pitch
    return note.pitch.midi


# Time


def _split(line: _Line, edit: LineEdit) -> Notes:
    place = line.place(edit)
    note = line.notes[place]
    first = _first_part(note, line.bar(note.onset)[0])
    if first is None:
        raise EditRefused(f"{line.where(note)}: so short a note is not split")
    head = line.timed(note, note.onset, first)._replace(breath=False)
    return line.put(place, [head, line.timed(note, note.onset + first, note.beats - first)])


def _first_part(note: EtudeNote, bar: Bar) -> Fraction | None:
    """The length of the first of two notes: half, rounded up to a beat, an eighth, a sixteenth."""
    if note.beats.denominator % 3 == 0:
        return note.beats / 2 if note.beats == 2 * _THIRD else None
    for grid in (bar.meter.pulse_beats, EIGHTH, _SIXTEENTH):
        first = ceil(note.beats / 2 / grid) * grid
        if first < note.beats:
            return first
    return None


def _join(line: _Line, edit: LineEdit) -> Notes:
    place = line.place(edit)
    note = line.notes[place]
    if line.ends_bar(note):
        raise EditRefused(f"{line.where(note)}: the bar line stands there; tie the note instead")
    following = line.notes[place + 1]
    if note.pitch is None and following.pitch:
        raise EditRefused(f"{line.where(note)}: a rest is joined with a rest alone")
    return line.put(place, [_together(line, note, following)], count=2)


def _tie(line: _Line, edit: LineEdit) -> Notes:
    note, place = line.note(edit), line.place(edit)
    following = line.notes[place + 1 : place + 2]
    if not following:
        raise EditRefused(f"{line.where(note)}: no note of the form follows that it is tied to")
    if following[0].pitch is None:
        raise EditRefused(f"{line.where(note)}: a note is not tied to a rest")
    return line.put(place, [_together(line, note, following[0])], count=2)


def _together(line: _Line, note: EtudeNote, following: EtudeNote) -> EtudeNote:
    joined = line.timed(note, note.onset, note.beats + following.beats)
    return joined._replace(breath=following.breath or (note.breath and not following.pitch))


def _rest(line: _Line, edit: LineEdit) -> Notes:
    note, place = line.note(edit), line.place(edit)
    notes = list(line.put(place, [note._replace(pitch=None, below=(), breath=False)]))
    if place and notes[place - 1].pitch:
        notes[place - 1] = notes[place - 1]._replace(breath=line.etude.brief.instrument.breath)
    return tuple(notes)


def _note(line: _Line, edit: LineEdit) -> Notes:
    place = line.place(edit)
    rest = line.notes[place]
    if rest.pitch:
        raise EditRefused(f"{line.where(rest)} is a note already")
    rest = line.timed(rest, rest.onset, rest.beats)
    return line.put(place, [pitched(rest, _nearest(line, place, rest), line.etude.analysis)])


def _nearest(line: _Line, place: int, rest: EtudeNote) -> int:
    """The chord tone that lies nearest to the note before, or else to the one after."""
    brief = line.etude.brief
    around = [n.pitch.midi for n in (*line.notes[:place][::-1], *line.notes[place:]) if n.pitch]
    near = around[0] if around else (brief.concert_low + brief.concert_high) // 2
    tones = line.etude.analysis.chords[rest.chord].tones
    classes = {tone.name.pitch_class for tone in tones} or set(range(12))
    offered = [midi for midi in range(128) if midi % 12 in classes]
    return min(offered, key=lambda midi: (not brief.has(midi), abs(midi - near), midi))


def _longer(line: _Line, edit: LineEdit) -> Notes:
    place = line.place(edit)
    note = line.notes[place]
    if line.ends_bar(note):
        raise EditRefused(f"{line.where(note)}: the bar line stands there; tie the note instead")
    following = line.notes[place + 1]
    unit = _unit(note, following)
    if following.beats <= unit:
        raise EditRefused(f"{line.where(following)}: nothing would be left of it; join the two")
    grown = line.timed(note, note.onset, note.beats + unit)
    rest_of = line.timed(following, following.onset + unit, following.beats - unit)
    return line.put(place, [grown, rest_of], count=2)


def _shorter(line: _Line, edit: LineEdit) -> Notes:
    place = line.place(edit)
    note = line.notes[place]
    at_line = line.ends_bar(note)
    following = note if at_line else line.notes[place + 1]
    unit = _unit(note, following)
    if note.beats <= unit:
        raise EditRefused(f"{line.where(note)}: nothing would be left of it; make a rest of it")
    cut = line.timed(note, note.onset, note.beats - unit)
    if at_line:  # a note does not begin before its bar line: a rest does
        gap = line.timed(note, cut.end, unit)._replace(pitch=None, below=(), breath=False)
        return line.put(place, [cut._replace(breath=line.etude.brief.instrument.breath), gap])
    grown = line.timed(following, following.onset - unit, following.beats + unit)
    return line.put(place, [cut, grown], count=2)


def _unit(note: EtudeNote, following: EtudeNote) -> Fraction:
    """What both lengths are made of: thirds of a beat, eighths or sixteenths."""
    lengths = (note.beats, following.beats)
    if any(beats.denominator % 3 == 0 for beats in lengths):
        return _THIRD
    return EIGHTH if all(beats % EIGHTH == 0 for beats in lengths) else _SIXTEENTH


def _rhythm(line: _Line, edit: LineEdit) -> Notes:
    bar, start = line.bar(edit.at)
    end = start + bar.beats
    if sum(edit.figure, Fraction(0)) != bar.beats or min(edit.figure, default=0) <= 0:
        raise EditRefused(f"bar {bar.number} has {bar.beats} beats; the rhythm has to fill it")
    before, after = [], []
    for note in line.notes:  # a note that is held over a bar line is cut there
        if note.onset < start:
            beats = min(note.end, start) - note.onset
            before.append(note if note.end <= start else line.timed(note, note.onset, beats))
        if note.end > end:
            onset = max(note.onset, end)
            after.append(note if note.onset >= end else line.timed(note, onset, note.end - onset))
    inside, onset = [], start
    for beats in edit.figure:
        sounding = next(note for note in reversed(line.notes) if note.onset <= onset)
        closing = sounding.breath and onset + beats == end
        inside.append(line.timed(sounding, onset, beats)._replace(breath=closing))
        onset += beats
    return (*before, *inside, *after)


_ACTIONS: dict[EditAction, Callable[[_Line, LineEdit], Notes]] = {
    EditAction.STEP_UP: _moved(_in_scale(1)),
    EditAction.STEP_DOWN: _moved(_in_scale(-1)),
    EditAction.HALF_STEP_UP: _moved(_by(1)),
    EditAction.HALF_STEP_DOWN: _moved(_by(-1)),
    EditAction.CHORD_TONE_UP: _moved(_in_chord(1)),
    EditAction.CHORD_TONE_DOWN: _moved(_in_chord(-1)),
    EditAction.OCTAVE_UP: _moved(_by(_OCTAVE)),
    EditAction.OCTAVE_DOWN: _moved(_by(-_OCTAVE)),
    EditAction.SPLIT: _split,
    EditAction.JOIN: _join,
    EditAction.TIE: _tie,
    EditAction.REST: _rest,
    EditAction.NOTE: _note,
    EditAction.LONGER: _longer,
    EditAction.SHORTER: _shorter,
    EditAction.RHYTHM: _rhythm,
}


def _demand_writable(line: _Line, notes: Sequence[EtudeNote]) -> None:
    """Refuse notes whose rhythm cannot be written, in the bars that are new."""
    old = set(line.notes)
    new = [note for note in notes if note not in old]
    onsets, ends = [note.onset for note in notes], [note.end for note in notes]
    for bar, start in line.bars if new else ():
        end = start + bar.beats
        if start < new[-1].end and new[0].onset < end:
            inside = notes[bisect(ends, start) : bisect_left(onsets, end)]
            if not is_writable(bar, start, inside):
                raise EditRefused(f"bar {bar.number}: no notes are written so; try another length")
