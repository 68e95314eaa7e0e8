"""A take as one player reads it, and as MIDI; `take_score` sets it on a staff.

Conventions
-----------
- Data are in seconds of the recording and concert pitch.
- MIDI and the score begin where the form begins: after the count-in of the backing, when one
  was found. Otherwise MIDI begins with the recording, and the score with its first note, on
  the grid of sixteenths that fits the onsets best.
- Score and picture are in the player's written pitch. The signature is the one that most
  of what was played lies in, with a leaning to few signs. Other notes are white keys by
  their plain names, or near to the signature on the line of fifths.
- Velocity falls from 127 at the loudest note, 40 dB for each power of ten.

Source: the velocity curve is that of the DLS standard, level 1 (from memory).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from halfstep.instruments import Instrument
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.part.transposition import interval_for
from halfstep.part.written_music import home_key_of
from halfstep.pitch import Pitch, name_at, pitch_near
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Chart

_MOST_SIGNS, _SIGN = 5, 0.03
"""Of a signature; and the share of the take that must lie in it for each of its signs."""


@dataclass(frozen=True, slots=True)
class WrittenTake:
    """A take as one player reads it.

    Attributes
    ----------
    take : HeardTake
        As it was heard, in concert pitch.
    player : Instrument
    title : str
    count_in_s : float
        How long the backing counts before the form begins.
    chart : Chart or None
        What was played over, as sounding.
    start_s : float or None
        Where bar 1 begins, when that was said, or found without a backing or in one of several
        passes that sound alike.
    """

    take: HeardTake
    player: Instrument
    title: str
    count_in_s: float = 0.0
    chart: Chart | None = None
    start_s: float | None = None

    @property
    def form_s(self) -> float | None:
        """Where in the recording the form begins; None where that is not known."""
        if self.start_s is not None:
            return self.start_s
        if self.take.delay_s is None or self.take.delay_modulo_s is not None:
            return None
        return self.take.delay_s + self.count_in_s

    @property
    def early(self) -> int:
        """How many notes end before the form begins."""
        return sum(note.offset_s <= (self.form_s or 0.0) for note in self.take.notes)

    @property
    def notes(self) -> tuple[HeardNote, ...]:
        """Without the early ones."""
        return self.take.notes[self.early :]

    @property
    def notices(self) -> tuple[str, ...]:
        """What should be said of notes that are left out."""
        notes = "note that ends" if self.early == 1 else "notes that end"
        left_out = f"{self.early} {notes} before the form begins: only in the data"
        return (left_out,) if self.early else ()

    @property
    def fifths(self) -> int:
        """The written signature: that of the chart, or the one that fits the notes best."""
        if self.chart is not None:
            home = home_key_of(self.chart)
            return (home + interval_for(home, self.player)).fifths
        return _signature([(self._written(note), _length_s(note)) for note in self.take.notes])

    def pitches(self) -> list[Pitch]:
        """The written pitch of each note."""
        fifths = self.fifths
        return [spelled(self._written(note), fifths) for note in self.take.notes]

    def _written(self, note: HeardNote) -> int:
        return note.midi + self.player.rise.semitones


def spelled(midi: int, fifths: int) -> Pitch:
    """A pitch as it is spelled under a signature, counted in fifths.

    >>> str(spelled(61, 0)), str(spelled(61, -3))
    ('C♯4', 'D♭4')
    """
    scale, naturals = range(fifths - 1, fifths + 6), range(-1, 6)
    names = map(name_at, (*scale, *naturals, *range(fifths - 3, fifths + 9)))
    return pitch_near(next(name for name in names if name.pitch_class == midi % 12), midi)


def _signature(notes: Sequence[tuple[int, float]]) -> int:
    whole_s = sum(length_s for _, length_s in notes)

    def strange(fifths: int) -> float:
        scale = {name_at(place).pitch_class for place in range(fifths - 1, fifths + 6)}
        outside_s = sum(length_s for midi, length_s in notes if midi % 12 not in scale)
        return outside_s + _SIGN * abs(fifths) * whole_s

    return min(sorted(range(-_MOST_SIGNS, _MOST_SIGNS + 1), key=abs), key=strange)


def _length_s(note: HeardNote) -> float:
    return note.offset_s - note.onset_s


# MIDI


def played_part(written: WrittenTake, tempo_bpm: float) -> PlayedPart:
    """The notes at their own times, unquantised."""
    start_s = written.form_s or 0.0
    loudest_db = max((note.level_db for note in written.notes), default=0.0)
    notes = [
        PlayedNote(
            _beats(max(0.0, note.onset_s - start_s), tempo_bpm),
            _beats(_length_s(note), tempo_bpm),
            note.midi,
            max(1, round(127 * 10 ** ((note.level_db - loudest_db) / 40))),
        )
        for note in written.notes
    ]
    return PlayedPart("line", written.player.program, percussion=False, notes=tuple(notes))


def _beats(time_s: float, tempo_bpm: float) -> Fraction:
    return Fraction(time_s) * Fraction(tempo_bpm) / 60
