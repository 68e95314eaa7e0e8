"""What should the player know about this etude? Two or three sentences made from its notes.

Each step has sentences of its own, the most telling first; where fewer than two of them find
something to say of these notes, those that hold for any line fill in. Names are those the player
reads, bars are numbered as printed, beats are counted from 1 in the pulse of the metre.

Source: common practice, no source.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import groupby, islice, pairwise
from typing import Protocol

from halfstep.etude.parts import Approach, Etude, EtudeNote
from halfstep.harmony.changes import Change
from halfstep.pitch import Degree, Pitch
from halfstep.progression.chart import Bar
from halfstep.progression.symbol import ChordSymbol

EXAMPLES, LISTED = 3, 8
"""How many places a sentence describes, and how many it lists."""

_SIGNS = {-1: "flat ", 0: "", 1: "sharp "}
_WORDS = {1: "root", 2: "9th", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh"}
_SIZES = {
    1: "half step", 2: "whole step", 3: "minor third", 4: "major third",
    5: "fourth", 6: "tritone", 7: "fifth",
}  # fmt: skip


class Reads(Protocol):
    """What a player reads: a part in written pitch."""

    def pitch(self, note: EtudeNote) -> Pitch | None:
        """The written note; None for a rest."""

    def symbol(self, chord: int) -> ChordSymbol:
        """The written chord symbol."""

    def change(self, chord: int) -> Change | None:
        """What changes into a chord, in written names."""


@dataclass(frozen=True, slots=True)
class _Line:
    """An etude as its player reads it; ``notes`` are those that sound."""

    etude: Etude
    part: Reads
    notes: tuple[EtudeNote, ...]
    bars: tuple[tuple[Bar, Fraction], ...]

    def bar(self, note: EtudeNote) -> int:
        """The number of the bar a note begins in."""
        return self._placed(note)[0].number

    def place(self, note: EtudeNote) -> str:
        """``bar 3``, or ``bar 3 beat 2.5``."""
        bar, start = self._placed(note)
        beat = (note.onset - start) / bar.meter.pulse_beats + 1
        shown = beat if 2 * beat % 1 == 0 else Fraction(beat // 1)  # no player counts 1.67
        return f"bar {bar.number}" + (f" beat {float(shown):g}" if shown != 1 else "")

    def _placed(self, note: EtudeNote) -> tuple[Bar, Fraction]:
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
        return f"{_word(note.degree)} of {self.part.symbol(note.chord)}" if note.degree else ""

    def by_chord(self) -> list[list[EtudeNote]]:
        """The notes of each chord, in order."""
        return [list(group) for _, group in groupby(self.notes, key=lambda note: note.chord)]

    def phrases(self) -> list[list[EtudeNote]]:
        """The notes between rests."""
        runs = groupby(self.etude.notes, key=lambda note: note.pitch is not None)
        return [list(run) for sounds, run in runs if sounds]


Sentence = Callable[[_Line], str]


def explained(etude: Etude, part: Reads) -> tuple[str, ...]:
    """Two or three sentences for the player; none for a line of rests.

    Parameters
    ----------
    etude : Etude
    part : Reads
        The part it is read from.
    """
    bars = tuple((bar, start) for bar, start in etude.analysis.chart.placed())
    notes = tuple(note for note in etude.notes if note.pitch)
    if not notes:
        return ()
    line = _Line(etude, part, notes, bars)
    said = [told for sentence in OWN.get(etude.step, ()) if (told := sentence(line))]
    others = (sentence(line) for sentence in ANY)
    said += islice((told for told in others if told and told not in said), max(0, 2 - len(said)))
    return tuple(said)


# Sentences for any line


def changes(line: _Line) -> str:
    """Which note changes where."""
    found: dict[str, list[int]] = {}
    for note in line.notes:
        if note.changing and note.chord:
            found.setdefault(_change(line, note), []).append(line.bar(note))
    by_bars: dict[str, list[str]] = {}
    for said, bars in found.items():
        by_bars.setdefault(_bars(bars), []).append(said)
    told = [f"{_and(said)} in {bars}" for bars, said in by_bars.items()]
    more = len(told) > EXAMPLES
    rest = "; the others have the same sign" if more else ""
    return f"Listen for what changes: {_list(told[:EXAMPLES])}{rest}." if told else ""


def _change(line: _Line, note: EtudeNote) -> str:
    """``C♯ becomes C``, or ``C is new``."""
    name = line.name(note)
    change = line.part.change(note.chord)
    for motion in (*change.half_steps, *change.steps) if change else ():
        if note.pitch and motion.new.pitch_class == _written(line, note).name.pitch_class:
            return f"{motion.old} becomes {name}"
    return f"{name} is new"


def _written(line: _Line, note: EtudeNote) -> Pitch:
    pitch = line.part.pitch(note)
    assert pitch is not None
    return pitch


def breaths(line: _Line) -> str:
    """Where to breathe."""
    found = [note for note in line.notes[:-1] if note.breath]
    if not found:
        return ""
    marks = "mark" if len(found) == 1 else "marks"
    return f"Breathe at the {marks} in {_bars(map(line.bar, found))}, not before."


def highest(line: _Line) -> str:
    """The highest note and how it stands to its chord."""
    top = max(line.notes, key=lambda note: _written(line, note).midi)
    role = f", the {line.role(top)}" if line.role(top) else ""
    return f"The line is highest at {line.high_name(top)} in {line.place(top)}{role}."


def ends(line: _Line) -> str:
    """Where the line comes to rest."""
    last = line.notes[-1]
    role = f", the {line.role(last)}" if line.role(last) else ""
    return f"It comes to rest on {line.high_name(last)}{role}."


ANY: tuple[Sentence, ...] = (breaths, highest, changes, ends)


# Sentences of the steps


def one_note(line: _Line) -> str:
    """The note of a one-note solo, and where it gives way to another."""
    runs = [next(run) for _, run in groupby(line.notes, key=lambda note: note.pitch)]
    first, later = runs[0], runs[1 : 1 + EXAMPLES]
    if not later:
        return f"{line.high_name(first)} fits every chord: stay on it to the end."
    told = [f"{line.high_name(note)} from {line.place(note)}" for note in later]
    return f"Your note is {line.high_name(first)}, then {_and(told)}."


def its_colours(line: _Line) -> str:
    """What one note is to each chord."""
    roles = dict.fromkeys(line.role(own[0]) for own in line.by_chord() if own[0].degree)
    told = [f"the {role}" for role in islice(roles, EXAMPLES)]
    return f"Hear its colour change: {_and(told)}." if len(told) > 1 else ""


def answer_bars(line: _Line) -> str:
    """Which bars are left to the player."""
    played = {line.bar(note) for note in line.notes}
    chords = line.etude.analysis.chords
    silent = {here.span.bar for here in chords if here.silent}
    left = [bar.number for bar, _ in line.bars if bar.number >= 1]
    yours = [number for number in left if number not in played | silent]
    verb = "is" if len(yours) == 1 else "are"
    return f"{_bars(yours).capitalize()} {verb} yours." if yours else ""


def call_ends(line: _Line) -> str:
    """The note an answer can begin from."""
    last = line.phrases()[0][-1]
    if not last.degree:
        return ""
    return (
        f"The first call ends on {line.name(last)}, the {line.role(last)}: "
        "keep it in your ear and begin your answer there."
    )


def echo_starts(line: _Line) -> str:
    """The first and the highest note of what is played back."""
    call = line.phrases()[0]
    top = max(call, key=lambda note: _written(line, note).midi)
    if top.pitch == call[0].pitch:
        return f"The first call starts on its highest note, {line.high_name(top)}: find it first."
    return (
        f"The first call starts on {line.high_name(call[0])} and reaches "
        f"{line.high_name(top)}: find these two first."
    )


def question_open(line: _Line) -> str:
    """What keeps a question open."""
    last = line.phrases()[0][-1]
    if not last.degree or last.degree.number == 1:
        return ""
    return (
        f"The first question stays open on {line.name(last)} in {line.place(last)}, "
        f"the {line.role(last)}."
    )


def answer_closes(line: _Line) -> str:
    """Where the last answer comes home."""
    last = line.notes[-1]
    if not last.degree or last.degree.number != 1:
        return ""
    return f"The last answer comes home to {line.name(last)} in {line.place(last)}."


def thirds(line: _Line) -> str:
    """The third of each chord."""
    found = _each_third(line)
    told = list(islice(found, EXAMPLES + 1))
    if len(told) == 1:
        return f"The third to name is {told[0]}."
    return f"The thirds to name are {_and(told)}." if told else ""


def _each_third(line: _Line) -> Iterator[str]:
    notes = (note for note in line.notes if note.degree and note.degree.number == 3)
    told = (f"{line.name(note)} in {line.part.symbol(note.chord)}" for note in notes)
    return iter(dict.fromkeys(told))


def third_to_third(line: _Line) -> str:
    """The smallest step from chord to chord."""
    return _joint(line, "In {place} {move} of {chord}: hear it before you play it.")


def _joint(line: _Line, text: str) -> str:
    """A sentence on the first change that the line crosses by the smallest step."""
    moved = [
        (old, new)
        for old, new in pairwise(line.notes)
        if old.chord != new.chord and old.pitch != new.pitch and old.end == new.onset
    ]
    if not moved:
        return ""
    old, new = min(moved, key=lambda both: _size(line, *both))
    return text.format(
        chord=line.part.symbol(new.chord), place=line.place(new), move=_move(line, old, new)
    )


def _size(line: _Line, old: EtudeNote, new: EtudeNote) -> int:
    return abs(_written(line, new).midi - _written(line, old).midi)


def _move(line: _Line, old: EtudeNote, new: EtudeNote) -> str:
    """``F falls a half step to E``."""
    rises = _written(line, new).midi > _written(line, old).midi
    size = _size(line, old, new)
    way = "rises" if rises else "falls"
    by = f" a {_SIZES[size]}" if size in _SIZES else ""
    return f"{line.name(old)} {way}{by} to {line.name(new)}"


def struck_again(line: _Line) -> str:
    """Which tones are repeated."""
    again = [
        new
        for old, new in pairwise(line.notes)
        if old.pitch == new.pitch and old.chord == new.chord and old.end == new.onset
    ]
    told = dict.fromkeys(f"{line.name(note)} in bar {line.bar(note)}" for note in again)
    return f"Struck again: {_and(list(islice(told, EXAMPLES)))}." if told else ""


def off_the_beat(line: _Line) -> str:
    """Which bars have long notes off the beat."""
    pulse = {bar.number: (start, bar.meter.pulse_beats) for bar, start in line.bars}
    found = []
    for note in line.notes:
        start, beats = pulse[line.bar(note)]
        if (note.onset - start) % beats and note.beats >= 1:
            found.append(line.bar(note))
    return f"Count through {_bars(found)}: a long note begins off the beat." if found else ""


def nearest(line: _Line) -> str:
    """How the line goes on at changes."""
    return _joint(line, "The closest join is in {place}: {move} of {chord}.")


def first_notes(line: _Line) -> str:
    """Where chords are entered on another tone than the root."""
    told = [
        f"{line.part.symbol(own[0].chord)} in bar {line.bar(own[0])} on its {_word(degree)}"
        for own in line.by_chord()
        if (degree := own[0].degree) and degree.number != 1
    ]
    return f"You enter {_and(told[:EXAMPLES])}." if told else ""


def directions(line: _Line) -> str:
    """Which chords' runs rise and which fall."""
    rising: list[int] = []
    falling: list[int] = []
    for own in line.by_chord():
        rise = _written(line, own[-1]).midi - _written(line, own[0]).midi
        if len(own) > 2 and rise:
            (rising if rise > 0 else falling).append(line.bar(own[0]))
    if not rising or not falling:
        return f"Every run {'rises' if rising else 'falls'}." if rising or falling else ""
    up, down = set(rising) - set(falling), set(falling) - set(rising)
    if not up or not down:
        return ""
    return f"It rises in {_bars(up)} and falls in {_bars(down)}."


def skips(line: _Line) -> str:
    """Where a line of steps leaps to a chord tone."""
    told = [
        f"{line.name(old)} to {line.name(new)} in bar {line.bar(new)}"
        for old, new in pairwise(line.notes)
        if _size(line, old, new) > 2 and old.end == new.onset
    ]
    return (
        f"Most of it is steps; the skips to see ahead are {_and(told[:EXAMPLES])}." if told else ""
    )


def keeps_direction(line: _Line) -> str:
    """The changes that are crossed without turning."""
    triples = zip(line.notes, line.notes[1:], line.notes[2:], strict=False)
    found = [
        (way, new)
        for old, middle, new in triples
        if middle.chord != new.chord and (way := _way(line, old, middle))
        if way == _way(line, middle, new)
    ]
    told = dict.fromkeys(
        f"{'up' if way > 0 else 'down'} into {line.part.symbol(new.chord)} in bar {line.bar(new)}"
        for way, new in found
    )
    return f"Keep going {_and(list(islice(told, EXAMPLES)))}." if told else ""


def _way(line: _Line, old: EtudeNote, new: EtudeNote) -> int:
    rise = _written(line, new).midi - _written(line, old).midi
    return (rise > 0) - (rise < 0)


def guide_line(line: _Line) -> str:
    """The guide tones one after another."""
    firsts = [own[0] for own in line.by_chord()]
    told = [f"{line.name(note)} ({note.degree})" for note in firsts[:LISTED]]
    more = " …" if len(firsts) > len(told) else ""
    return f"The thread to hear is {' – '.join(told)}{more}." if len(told) > 1 else ""


def guide_step(line: _Line) -> str:
    """The first guide tone that moves by a half step."""
    firsts = [own[0] for own in line.by_chord()]
    for old, new in pairwise(firsts):
        if _size(line, old, new) == 1:
            told = _move(line, old, new)
            symbol = line.part.symbol(new.chord)
            return f"In {line.place(new)} {told} of {symbol}: lean on it."
    return ""


def cell_roots(line: _Line) -> str:
    """The roots the cells are built on."""
    roots = [str(line.part.symbol(own[0].chord).root) for own in line.by_chord()]
    told = [root for root, _ in groupby(roots)]
    return f"The cells stand on {', '.join(told[:LISTED])}{' …' if len(told) > LISTED else ''}."


def approaches(line: _Line) -> str:
    """The approach notes by shape."""
    found = [pair for pair in pairwise(line.notes) if pair[0].approach is not Approach.NONE]
    chromatic = [pair for pair in found if pair[0].approach is Approach.CHROMATIC]
    shown = chromatic or found
    told = list(dict.fromkeys(_into(line, *pair) for pair in shown))[:EXAMPLES]
    if chromatic:
        return (
            f"{len(chromatic)} of {len(found)} approach notes come from outside the scale, "
            f"such as {_and(told)}."
        )
    return f"The approach notes are all in the scale: {_and(told)}." if told else ""


def _into(line: _Line, old: EtudeNote, new: EtudeNote) -> str:
    return f"{line.name(old)} into {line.name(new)} in bar {line.bar(old)}"


def outside(line: _Line) -> str:
    """Notes from outside the scale, and where they go."""
    found = [pair for pair in pairwise(line.notes) if pair[0].approach is Approach.CHROMATIC]
    told = list(dict.fromkeys(_into(line, *pair) for pair in found))[:2]
    return f"Notes from outside move on by step: {_and(told)}." if told else ""


def pulled_to(line: _Line) -> str:
    """A third or seventh that an approach note leads to."""
    for old, new in pairwise(line.notes):
        if old.approach is not Approach.NONE and new.degree and new.degree.number in {3, 7}:
            return (
                f"Hear {line.name(old)} pull to {line.name(new)}, the {line.role(new)}, "
                f"in {line.place(new)}."
            )
    return ""


def enclosures(line: _Line) -> str:
    """Which notes close in on which."""
    triples = list(zip(line.notes, line.notes[1:], line.notes[2:], strict=False))
    found = [
        each
        for each in triples
        if each[0].approach is each[1].approach is Approach.ENCLOSURE
        and each[2].approach is not Approach.ENCLOSURE
    ]
    told = [
        f"{line.name(a)} and {line.name(b)} close in on {line.name(goal)}, the {line.role(goal)}, "
        f"in {line.place(goal)}"
        for a, b, goal in found[:2]
    ]
    return f"{'; '.join(told)}." if told else ""


def figure(line: _Line) -> str:
    """The notes of the figure, and where they come back with the same intervals."""
    bars = [list(group) for _, group in groupby(line.notes, key=line.bar)]
    first, shape = bars[0], _shape(line, bars[0])
    names = " ".join(line.name(note) for note in first)
    same = [line.bar(own[0]) for own in bars[1:] if _shape(line, own) == shape]
    again = f"; its intervals come back exactly in {_bars(same)}" if same else ""
    return f"The figure is {names} in bar {line.bar(first[0])}{again}."


def figure_gives_way(line: _Line) -> str:
    """The first bar in which the figure's intervals change."""
    bars = [list(group) for _, group in groupby(line.notes, key=line.bar)]
    shape = _shape(line, bars[0])
    for own in bars[1:]:
        if _shape(line, own) != shape:
            names = " ".join(line.name(note) for note in own)
            symbol = line.part.symbol(own[0].chord)
            return f"Over {symbol} in bar {line.bar(own[0])} it gives way and becomes {names}."
    return ""


def _shape(line: _Line, notes: Sequence[EtudeNote]) -> list[int]:
    return [_written(line, b).midi - _written(line, a).midi for a, b in pairwise(notes)]


def phrases(line: _Line) -> str:
    """How many phrases, and where each begins."""
    found = line.phrases()
    if len(found) < 2:
        return ""
    starts = [line.place(phrase[0]) for phrase in found]
    breathe = "breathe" if any(note.breath for note in line.notes) else "let go"
    return (
        f"{len(found)} phrases, from {_and(starts[:LISTED])}; {breathe} in the rests between them."
    )


OWN: dict[int, tuple[Sentence, ...]] = {
    -4: (one_note, its_colours, breaths),
    -3: (echo_starts, answer_bars, breaths),
    -2: (question_open, answer_closes, answer_bars),
    -1: (third_to_third, thirds, breaths),
    1: (thirds, changes, breaths),
    2: (struck_again, off_the_beat),
    3: (nearest, changes),
    4: (changes, directions, highest),
    5: (skips, first_notes),
    6: (keeps_direction, changes, highest),
    7: (guide_line, guide_step, breaths),
    8: (cell_roots, directions, highest),
    9: (approaches, pulled_to, breaths),
    10: (enclosures, highest),
    11: (figure, figure_gives_way),
    12: (answer_bars, call_ends, highest),
    13: (phrases, highest, outside),
}
"""The sentences of each step, the most telling first."""


# Words


def _word(degree: Degree) -> str:
    """``third``, ``flat 9th``: what players call a degree; thirds and sevenths need no sign."""
    simple = degree.simple
    sign = (
        "" if simple.number in {3, 7} else _SIGNS[(simple.alteration > 0) - (simple.alteration < 0)]
    )
    return sign + _WORDS[simple.number]


def _list(items: Sequence[str]) -> str:
    """Items that hold an ``and`` themselves."""
    return "; ".join(items) if any(" and " in each for each in items) else _and(items)


def _and(items: Sequence[str]) -> str:
    return items[0] if len(items) == 1 else f"{', '.join(items[:-1])} and {items[-1]}"


def _bars(numbers: Iterable[int]) -> str:
    """``bar 3``, ``bars 1, 3–4 and 7``; a long list breaks off."""
    runs: list[list[int]] = []
    for number in sorted(set(numbers)):
        if runs and number == runs[-1][-1] + 1:
            runs[-1].append(number)
        else:
            runs.append([number])
    told = [str(run[0]) if len(run) == 1 else f"{run[0]}–{run[-1]}" for run in runs]
    word = "bar" if len(runs) == 1 and len(runs[0]) == 1 else "bars"
    return f"{word} {_and(told) if len(told) <= LISTED else ', '.join(told[:LISTED]) + ' …'}"
