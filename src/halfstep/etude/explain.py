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
CELL = 4
"""Notes of a cell."""

_SIGNS = {-1: "flat ", 0: "", 1: "sharp "}
_WORDS = {1: "root", 2: "ninth", 3: "third", 4: "fourth", 5: "fifth", 6: "sixth", 7: "seventh"}
_NUMBERS = {
    2: "Two", 3: "Three", 4: "Four", 5: "Five", 6: "Six", 7: "Seven", 8: "Eight", 9: "Nine",
    10: "Ten", 11: "Eleven", 12: "Twelve",
}  # fmt: skip
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
        return self.placed(note)[0].number

    def place(self, note: EtudeNote) -> str:
        """``bar 3``, or ``bar 3 beat 2.5``."""
        bar, start = self.placed(note)
        beat = (note.onset - start) / bar.meter.pulse_beats + 1
        shown = beat if 2 * beat % 1 == 0 else Fraction(beat // 1)  # no player counts 1.67
        return f"bar {bar.number}" + (f" beat {float(shown):g}" if shown != 1 else "")

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
        return f"{_word(note.degree)} of {self.part.symbol(note.chord)}" if note.degree else ""

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
    found = [(_change(line, n), line.bar(n)) for n in line.notes if n.changing and n.chord]
    told = _in_bars(found)
    rest = "; the others have the same sign" if len(told) > EXAMPLES else ""
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
    before = "" if any(note.pitch is None for note in line.etude.notes) else ", not before"
    return f"Breathe at the {marks} in {_bars(map(line.bar, found))}{before}."


def highest(line: _Line) -> str:
    """The highest note and how it stands to its chord."""
    top = max(line.notes, key=lambda note: _written(line, note).midi)
    again = sum(note.pitch == top.pitch for note in line.notes) > 1
    role = f", the {line.role(top)}" if line.role(top) else ""
    first = ", first" if again else ""
    return f"The line is highest at {line.high_name(top)}{first} in {line.place(top)}{role}."


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
    """What the first note is to the chords it sounds over."""
    roles: dict[str, str] = {}
    for note in line.notes:
        if note.degree and note.pitch == line.notes[0].pitch:
            roles.setdefault(_word(note.degree), f"the {line.role(note)}")
    told = list(islice(roles.values(), EXAMPLES))
    return f"Hear its colour change: {_and(told)}." if len(told) > 1 else ""


def answer_bars(line: _Line) -> str:
    """Which bars are left to the player."""
    played = {line.bar(note) for note in line.notes}
    spans = [here.span for here in line.etude.analysis.chords if not here.silent]
    yours = [
        bar.number
        for bar, start in line.bars
        if bar.number >= 1 and bar.number not in played
        if any(span.start < start + bar.beats and start < span.end for span in spans)
    ]
    verb = "is" if len(yours) == 1 else "are"
    return f"{_bars(yours).capitalize()} {verb} yours." if yours else ""


def call_ends(line: _Line) -> str:
    """The note an answer can begin from."""
    last = line.phrases()[0][-1]
    if not last.degree:
        return ""
    told = f"The first call ends on {line.name(last)}, the {line.role(last)}"
    return f"{told}: {_answer_from(line, last)}." if _answer_from(line, last) else f"{told}."


def _answer_from(line: _Line, last: EtudeNote) -> str:
    """What to do with the end of a call in the answer; empty where nothing is near."""
    after = next(end for bar, start in line.bars if (end := start + bar.beats) >= last.end)
    chords = line.etude.analysis.chords
    spans = [(n, here) for n, here in enumerate(chords) if here.span.end > after]
    if not spans or spans[0][1].silent or not last.pitch:
        return ""
    chord, here = spans[0]
    if last.pitch.name.pitch_class in {name.pitch_class for name in here.scale.names}:
        return "keep it in your ear and begin your answer there"
    change = line.part.change(chord) if chord == last.chord + 1 else None
    for motion in (*change.half_steps, *change.steps) if change else ():
        if motion.old.pitch_class == _written(line, last).name.pitch_class:
            symbol = line.part.symbol(chord)
            return f"over {symbol} it becomes {motion.new}, and your answer can begin there"
    return ""


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
    if not last.degree or last.degree.number == 1 or _is_home(line, last):
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
    name, place = line.name(last), line.place(last)
    if _is_home(line, last):
        return f"The last answer comes home to {name} in {place}."
    return f"The last answer closes on {name} in {place}, the {line.role(last)}."


def _is_home(line: _Line, note: EtudeNote) -> bool:
    home = line.etude.analysis.home.tonic
    return note.pitch is not None and note.pitch.name.pitch_class == home.pitch_class


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
    return _joint(line, "In {place} {move} over {chord}: hear it before you play it.")


def _joint(line: _Line, text: str) -> str:
    """A sentence on the first change that the line crosses by the smallest step."""
    moved = [
        (old, new)
        for old, new in line.joined()
        if old.chord != new.chord and old.pitch != new.pitch
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
        (line.name(new), line.bar(new))
        for old, new in line.joined()
        if old.pitch == new.pitch and old.chord == new.chord
    ]
    return f"Struck again: {_list(_in_bars(again[:EXAMPLES]))}." if again else ""


def over_the_beat(line: _Line) -> str:
    """Which bars have notes that begin off the beat and last into the next."""
    found = []
    for note in line.notes:
        bar, start = line.placed(note)
        late = (note.onset - start) % bar.meter.pulse_beats
        if late and late + note.beats > bar.meter.pulse_beats:
            found.append(line.bar(note))
    there = "there" if len(set(found)) == 1 else "in each"
    return f"Count through {_bars(found)}: a note {there} is held over the beat." if found else ""


def nearest(line: _Line) -> str:
    """How the line goes on at changes."""
    return _joint(line, "The closest join is in {place}: {move} over {chord}.")


def first_notes(line: _Line) -> str:
    """Where chords are entered on another tone than the root."""
    firsts = [own[0] for own in line.by_chord()]
    by_word: dict[str, list[EtudeNote]] = {}
    for note in [n for n in firsts if n.degree and n.degree.number != 1][:EXAMPLES]:
        by_word.setdefault(_word(note.degree) if note.degree else "", []).append(note)
    told = []
    for word, notes in by_word.items():
        symbols = list(dict.fromkeys(str(line.part.symbol(note.chord)) for note in notes))
        whose = "its" if len(symbols) == 1 else "their"
        told.append(f"{_and(symbols)} in {_bars(map(line.bar, notes))} on {whose} {word}")
    return f"You enter {_list(told)}." if told else ""


def directions(line: _Line) -> str:
    """In which bars the line only rises, and in which it only falls."""
    rising: set[int] = set()
    falling: set[int] = set()
    mixed: set[int] = set()
    for number, in_bar in groupby(line.notes, key=line.bar):
        runs = [list(run) for _, run in groupby(in_bar, key=lambda note: note.chord)]
        ways = {_way(line, old, new) for own in runs for old, new in pairwise(own)}
        kind = rising if ways == {1} else falling if ways == {-1} else mixed
        kind.add(number)
    if not mixed and not (rising and falling):
        return f"Every run {'rises' if rising else 'falls'}."
    told = [
        f"{verb} in {_bars(bars)}" for verb, bars in (("rises", rising), ("falls", falling)) if bars
    ]
    only = "only " if mixed else ""
    return f"It {only}{_and(told)}." if told else ""


def skips(line: _Line) -> str:
    """Where a line of steps leaps to a chord tone."""
    joined = line.joined()
    found = [both for both in joined if _is_skip(line, *both)]
    shown = [(f"{line.name(o)} to {line.name(n)}", line.bar(n)) for o, n in found[:EXAMPLES]]
    if not shown:
        return ""
    skips = "the skips" if len(found) > 1 else "the skip"
    which = f"{skips} to see ahead" if len(found) == len(shown) else "the first skips"
    told = f"{which} {'are' if len(found) > 1 else 'is'} {_list(_in_bars(shown))}."
    return f"Most of it is steps; {told}" if 2 * len(found) < len(joined) else _capital(told)


def _is_skip(line: _Line, old: EtudeNote, new: EtudeNote) -> bool:
    """True for a third or more; an augmented second is a step of its scale."""
    letters = _written(line, new).staff_step - _written(line, old).staff_step
    return _size(line, old, new) > 2 and abs(letters) > 1


def keeps_direction(line: _Line) -> str:
    """The changes that are crossed without turning."""
    triples = zip(line.notes, line.notes[1:], line.notes[2:], strict=False)
    found = [
        (way, new)
        for old, middle, new in triples
        if old.end == middle.onset and middle.end == new.onset
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
    end = " …" if len(firsts) > len(told) else "."
    return f"The thread to hear is {' – '.join(told)}{end}" if len(told) > 1 else ""


def guide_step(line: _Line) -> str:
    """The first guide tone that moves by a half step."""
    firsts = [own[0] for own in line.by_chord()]
    for old, new in pairwise(firsts):
        if _size(line, old, new) == 1 and new.chord == old.chord + 1:
            told = _move(line, old, new)
            return f"In {line.place(new)} {told} over {line.part.symbol(new.chord)}: lean on it."
    return ""


def cell_roots(line: _Line) -> str:
    """The roots the cells are built on."""
    roots = [str(line.part.symbol(own[0].chord).root) for own in line.by_chord()]
    told = [root for root, _ in groupby(roots)]
    if len(told) > LISTED:
        return f"The cells stand on {', '.join(told[:LISTED])} …"
    return f"The cells stand on {_and(told)}."


def cell_forms(line: _Line) -> str:
    """The first cell that goes up, down, and is turned inside."""
    found: dict[str, str] = {}
    for own in line.by_chord():
        ways = [_way(line, old, new) for old, new in pairwise(own[:CELL])]
        if len(own) >= CELL:
            form = {1: "goes up", -1: "comes down"}.get(ways[0], "")
            form = form if len(set(ways)) == 1 else "is turned"
            names = " ".join(line.name(note) for note in own[:CELL])
            found.setdefault(form, f"{form} in {line.place(own[0])} ({names})")
    return f"The cell {_and(list(found.values()))}." if found else ""


def approaches(line: _Line) -> str:
    """The approach notes by shape."""
    found = [pair for pair in line.joined() if pair[0].approach is not Approach.NONE]
    chromatic = [pair for pair in found if pair[0].approach is Approach.CHROMATIC]
    shown = _into(line, chromatic or found, EXAMPLES)
    if chromatic:
        come = "comes" if len(chromatic) == 1 else "come"
        such = ":" if len(chromatic) == 1 else ", such as"
        return (
            f"{len(chromatic)} of {len(found)} approach notes {come} from outside the scale{such} "
            f"{shown}."
        )
    return f"The approach notes are all in the scale, such as {shown}." if shown else ""


def _into(line: _Line, pairs: Sequence[tuple[EtudeNote, EtudeNote]], count: int) -> str:
    """``G♯ into A in bar 1``; the first few, each way of leading once."""
    shown: dict[str, int] = {}
    for old, new in pairs:
        shown.setdefault(f"{line.name(old)} into {line.name(new)}", line.bar(old))
    return _list(_in_bars(islice(shown.items(), count)))


def outside(line: _Line) -> str:
    """Notes from outside the scale, and where they go."""
    found = [pair for pair in line.joined() if pair[0].approach is Approach.CHROMATIC]
    told = _into(line, found, 2)
    if len(found) == 1:
        return f"One note from outside moves on by step: {told}."
    return f"Notes from outside move on by step: {told}." if told else ""


def pulled_to(line: _Line) -> str:
    """A third or seventh that an approach note leads to, by a half step if there is one."""
    found = [
        (old, new)
        for old, new in line.joined()
        if old.approach is not Approach.NONE and new.degree and new.degree.number in {3, 7}
    ]
    if not found:
        return ""
    old, new = min(found, key=lambda both: _size(line, *both))
    pull = f"{line.name(old)} pull to {line.name(new)}, the {line.role(new)}"
    return f"Hear {pull}, in {line.place(new)}."


def enclosures(line: _Line) -> str:
    """Which notes close in on which."""
    triples = list(zip(line.notes, line.notes[1:], line.notes[2:], strict=False))
    found = [
        each
        for each in triples
        if each[0].approach is each[1].approach is Approach.ENCLOSURE
        and each[0].end == each[1].onset
        and each[1].end == each[2].onset
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
            symbols = dict.fromkeys(str(line.part.symbol(note.chord)) for note in own)
            over = _and(list(symbols))
            return f"Over {over} in bar {line.bar(own[0])} it gives way and becomes {names}."
    return ""


def _shape(line: _Line, notes: Sequence[EtudeNote]) -> list[int]:
    return [_written(line, b).midi - _written(line, a).midi for a, b in pairwise(notes)]


def phrases(line: _Line) -> str:
    """How many phrases, and where each begins."""
    found = line.phrases()
    if len(found) < 2:
        return ""
    starts = [line.place(phrase[0]) for phrase in found]
    count = _NUMBERS.get(len(found), str(len(found)))
    breathe = "breathe" if any(note.breath for note in line.notes) else "let go"
    if len(starts) > LISTED:
        listed = f"{', '.join(starts[:LISTED])} …"
        return f"{count} phrases: {breathe} in the rests between them. They begin in {listed}"
    return f"{count} phrases, from {_and(starts)}; {breathe} in the rests between them."


OWN: dict[int, tuple[Sentence, ...]] = {
    -4: (one_note, its_colours, breaths),
    -3: (echo_starts, answer_bars, breaths),
    -2: (question_open, answer_closes, answer_bars),
    -1: (third_to_third, thirds, breaths),
    1: (thirds, changes, breaths),
    2: (struck_again, over_the_beat),
    3: (nearest, changes),
    4: (changes, directions, highest),
    5: (skips, first_notes),
    6: (keeps_direction, changes, highest),
    7: (guide_line, guide_step, breaths),
    8: (cell_roots, cell_forms, highest),
    9: (approaches, pulled_to, breaths),
    10: (enclosures, highest),
    11: (figure, figure_gives_way),
    12: (answer_bars, call_ends, highest),
    13: (phrases, highest, outside),
}
"""The sentences of each step, the most telling first."""


# Words


def _word(degree: Degree) -> str:
    """``third``, ``flat ninth``: what players call a degree; thirds and sevenths need no sign."""
    simple = degree.simple
    sign = (
        "" if simple.number in {3, 7} else _SIGNS[(simple.alteration > 0) - (simple.alteration < 0)]
    )
    return sign + _WORDS[simple.number]


def _in_bars(told: Iterable[tuple[str, int]]) -> list[str]:
    """Texts with all their bars, those of the same bars together: ``F and D in bars 1 and 4``."""
    bars: dict[str, list[int]] = {}
    for text, bar in told:
        bars.setdefault(text, []).append(bar)
    texts: dict[str, list[str]] = {}
    for text, numbers in bars.items():
        texts.setdefault(_bars(numbers), []).append(text)
    return [f"{_and(together)} in {where}" for where, together in texts.items()]


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _list(items: Sequence[str]) -> str:
    """Items that hold an ``and`` themselves."""
    return "; ".join(items) if any(" and " in each for each in items) else _and(items)


def _and(items: Sequence[str]) -> str:
    if not items:
        return ""
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
