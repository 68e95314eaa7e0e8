"""What can be said of a line that a player reads? What sentences of several steps share.

Names are those the player reads, bars are numbered as printed, beats are counted from 1 in
the pulse of the metre. A sentence that has nothing to say is empty.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterator, Sequence
from fractions import Fraction
from itertools import groupby, islice, pairwise
from typing import NamedTuple, Protocol

from halfstep.etude.etude_line import EtudeLine
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_words import bars_in_words, degree_word, listing, texts_in_bars
from halfstep.harmony.changes import Change
from halfstep.meter import count_in_words
from halfstep.pitch import Pitch
from halfstep.progression.chart import Bar
from halfstep.progression.symbol import ChordSymbol
from halfstep.wording import joined_by_and

EXAMPLES = 3
"""How many places a sentence describes."""
_SIZES = {
    1: "half step", 2: "whole step", 3: "minor third", 4: "major third",
    5: "fourth", 6: "tritone", 7: "fifth",
}  # fmt: skip


class WrittenPart(Protocol):
    """What a player reads: a part in written pitch."""

    def of_line(self, notes: Sequence[EtudeNote]) -> WrittenPart:
        """The part in which the approach notes of a line are spelled by their goals."""

    def pitch(self, note: EtudeNote) -> Pitch | None:
        """The written note; None for a rest."""

    def below(self, note: EtudeNote) -> tuple[Pitch, ...]:
        """The written notes that are struck with a note, the highest first."""

    def symbol(self, chord: int) -> ChordSymbol:
        """The written chord symbol."""

    def change(self, chord: int) -> Change | None:
        """What changes into a chord, in written names."""


class PartLine(NamedTuple):
    """An etude as its player reads it; ``notes`` are those that sound."""

    etude: EtudeLine
    part: WrittenPart
    notes: tuple[EtudeNote, ...]
    bars: tuple[tuple[Bar, Fraction], ...]

    def bar(self, note: EtudeNote) -> int:
        """The number of the bar a note begins in."""
        return self.placed(note)[0].number

    def place(self, note: EtudeNote) -> str:
        """``bar 3``, ``bar 3 beat 2`` or ``bar 3 on the “and” of 2``."""
        bar, start = self.placed(note)
        beat = (note.onset - start) / bar.meter.pulse_beats + 1
        halves = beat.denominator == 2 and not bar.meter.compound
        counted = beat if halves else Fraction(beat // 1)  # no player counts 1.67
        if counted == 1:
            return f"bar {bar.number}"
        return f"bar {bar.number} {'on ' * halves}{count_in_words(counted)}"

    def placed(self, note: EtudeNote) -> tuple[Bar, Fraction]:
        """The bar a note begins in, and where that starts."""
        starts = [start for _, start in self.bars]
        return self.bars[bisect_right(starts, note.onset) - 1]

    def name(self, note: EtudeNote) -> str:
        """The written name without its octave."""
        pitch = self.part.pitch(note)
        return str(pitch.name) if pitch else ""

    def high_name(self, note: EtudeNote) -> str:
        """The written name with its octave."""
        return str(self.part.pitch(note))

    def role(self, note: EtudeNote) -> str:
        """``the third of G7``; empty where the note has no degree."""
        return (
            f"{degree_word(note.degree)} of {self.part.symbol(note.chord)}" if note.degree else ""
        )

    def by_chord(self) -> list[list[EtudeNote]]:
        """The notes of each chord, in order."""
        return [list(group) for _, group in groupby(self.notes, key=lambda note: note.chord)]

    def joined(self) -> list[tuple[EtudeNote, EtudeNote]]:
        """Each note with the next one, where no rest lies between."""
        return [(old, new) for old, new in pairwise(self.notes) if old.end == new.onset]

    def phrases(self) -> list[list[EtudeNote]]:
        """The notes between rests."""
        runs = groupby(self.etude.notes, key=lambda note: note.pitch is not None)
        return [list(run) for sounds, run in runs if sounds]


Sentence = Callable[[PartLine], str]


def changes(line: PartLine) -> str:
    """Which note changes where."""
    changing = [(_change(line, n), line.bar(n)) for n in line.notes if n.changing and n.chord]
    kinds = list(dict.fromkeys(text for text, _ in changing))
    shown = [(text, bar) for text, bar in changing if text in kinds[:EXAMPLES]]
    rest = "; more are marked in the music" if len(kinds) > EXAMPLES else ""
    return f"Listen for what changes: {listing(texts_in_bars(shown))}{rest}." if shown else ""


def _change(line: PartLine, note: EtudeNote) -> str:
    """``C♯ becomes C``, or ``C is new``."""
    name = line.name(note)
    change = line.part.change(note.chord)
    for motion in (*change.half_steps, *change.steps) if change else ():
        if note.pitch and motion.new.pitch_class == written_pitch(line, note).name.pitch_class:
            return f"{motion.old} becomes {name}"
    return f"{name} is new"


def written_pitch(line: PartLine, note: EtudeNote) -> Pitch:
    """The pitch that the player reads of a note that sounds."""
    pitch = line.part.pitch(note)
    assert pitch is not None
    return pitch


def breaths(line: PartLine) -> str:
    """Where to breathe."""
    breathing = [note for note in line.notes[:-1] if note.breath]
    if not breathing:
        return ""
    marks = "mark" if len(breathing) == 1 else "marks"
    before = "" if any(note.pitch is None for note in line.etude.notes) else ", not before"
    return f"Breathe at the {marks} in {bars_in_words(map(line.bar, breathing))}{before}."


def highest(line: PartLine) -> str:
    """The highest note and how it stands to its chord."""
    top = max(line.notes, key=lambda note: written_pitch(line, note).midi)
    again = sum(note.pitch == top.pitch for note in line.notes) > 1
    role = f", the {line.role(top)}" if line.role(top) else ""
    first = ", first" if again else ""
    return f"The line is highest at {line.high_name(top)}{first} in {line.place(top)}{role}."


def ends(line: PartLine) -> str:
    """Where the line comes to rest."""
    last = line.notes[-1]
    role = f", the {line.role(last)}" if line.role(last) else ""
    return f"It comes to rest on {line.high_name(last)}{role}."


def the_last_time(line: PartLine) -> str:
    """How the last chorus ends; empty where no ending is written."""
    ending = line.etude.ending
    if ending is None or ending.note.degree is None:
        return ""
    home = line.part.symbol(ending.note.chord).on_its_root
    role = f"the {degree_word(ending.note.degree)} of {home}"
    return (
        f"The last time, go on to bar {ending.bar.number} and end at home: hold "
        f"{line.high_name(ending.note)}, {role}."
    )


ANY: tuple[Sentence, ...] = (breaths, highest, changes, ends)


def answer_bars(line: PartLine) -> str:
    """Which bars are left to the player."""
    played = {line.bar(note) for note in line.notes}
    spans = [chord.span for chord in line.etude.analysis.chords if not chord.silent]
    yours = [
        bar.number
        for bar, start in line.bars
        if bar.number >= 1 and bar.number not in played
        if any(span.start < start + bar.beats and start < span.end for span in spans)
    ]
    verb = "is" if len(yours) == 1 else "are"
    return f"{bars_in_words(yours).capitalize()} {verb} yours." if yours else ""


def thirds(line: PartLine) -> str:
    """The third of each chord."""
    names = _each_third(line)
    listed = list(islice(names, EXAMPLES + 1))
    if len(listed) == 1:
        return f"The third to name is {listed[0]}."
    return f"The thirds to name are {joined_by_and(listed)}." if listed else ""


def _each_third(line: PartLine) -> Iterator[str]:
    notes = (note for note in line.notes if note.degree and note.degree.number == 3)
    texts = (f"{line.name(note)} in {line.part.symbol(note.chord)}" for note in notes)
    return iter(dict.fromkeys(texts))


def smallest_change(line: PartLine, text: str) -> str:
    """A sentence on the first change that the line crosses by the smallest step."""
    moved = [
        (old, new)
        for old, new in line.joined()
        if old.chord != new.chord and old.pitch != new.pitch
    ]
    if not moved:
        return ""
    old, new = min(moved, key=lambda both: size_of_move(line, *both))
    symbol = line.part.symbol(new.chord)
    chord = f"the {symbol} chord" if str(symbol) == str(symbol.root) else symbol
    return text.format(chord=chord, place=line.place(new), move=move_in_words(line, old, new))


def size_of_move(line: PartLine, old: EtudeNote, new: EtudeNote) -> int:
    """Semitones between two notes."""
    return abs(written_pitch(line, new).midi - written_pitch(line, old).midi)


def move_in_words(line: PartLine, old: EtudeNote, new: EtudeNote) -> str:
    """``F falls a half step to E``."""
    rises = written_pitch(line, new).midi > written_pitch(line, old).midi
    size = size_of_move(line, old, new)
    way = "rises" if rises else "falls"
    by = f" a {_SIZES[size]}" if size in _SIZES else ""
    return f"{line.name(old)} {way}{by} to {line.name(new)}"


def direction(line: PartLine, old: EtudeNote, new: EtudeNote) -> int:
    """1 where the second note is higher, -1 where it is lower, 0 where it is the same."""
    rise = written_pitch(line, new).midi - written_pitch(line, old).midi
    return (rise > 0) - (rise < 0)


def leading_in_words(
    line: PartLine, pairs: Sequence[tuple[EtudeNote, EtudeNote]], count: int
) -> str:
    """``G♯ into A in bar 1``; the first few, each way of leading once."""
    shown: dict[str, int] = {}
    for old, new in pairs:
        shown.setdefault(f"{line.name(old)} into {line.name(new)}", line.bar(old))
    return listing(texts_in_bars(islice(shown.items(), count)))
