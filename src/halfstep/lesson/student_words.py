"""What is said to a student of a take, in words that a twelve-year-old reads with ease.

One strength with its bar, then what to do next: what happened, where, and how to work on it.
Nothing is said of the student, only of what was played; nothing is counted against a whole.

Conventions: notes, chords and bars are those of the student's page.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.feedback.findings import Finding, FindingKind, PassPlace
from halfstep.feedback.judge import Feedback
from halfstep.feedback.next_things import NextThing, ThingKind
from halfstep.feedback.strengths import Strength, StrengthKind
from halfstep.part.places import bar_number
from halfstep.pitch import UNISON, Name
from halfstep.progression.symbol import parse_symbol

_NUMBERS = (
    "no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve", "thirteen", "fourteen", "fifteen", "sixteen", "seventeen", "eighteen", "nineteen",
    "twenty",
)  # fmt: skip
_TIMES = {1: "first time", 2: "second time", 3: "third time", 4: "fourth time"}

TITLES = {
    ThingKind.KEY: "Read it in your own key",
    ThingKind.FORM: "Know where you are",
    ThingKind.CHANGE: "Make the change to {chord}",
    ThingKind.OLD_NOTE: "Let go of the old note at {chord}",
    ThingKind.RESTART: "Let your line go on",
    ThingKind.LINE: "Bar {bar} once more",
    ThingKind.STEADINESS: "Keep the beat",
    ThingKind.FEEL: "Play the eighths like the band",
    ThingKind.TUNING: "Bring {note} into tune",
    ThingKind.BREATH: "Leave room to breathe",
    ThingKind.RHYTHM: "Use more than one rhythm",
    ThingKind.RANGE: "Use more of your notes",
    ThingKind.FIGURE: "Find a second idea",
    ThingKind.FURTHER: "One step further",
    ThingKind.ANSWER: "Answer in your own words",
}
"""What each thing is called."""

ADVICE = {
    ThingKind.KEY: "Lay the sheet for your own instrument in front of you. Say the name of "
    "each note before you play it.",
    ThingKind.FORM: "Play the line below and count the bars aloud in the rests. Nod when "
    "bar {bar} comes.",
    ThingKind.CHANGE: "Sing {new} first. Then play the line below, and listen for the moment "
    "when the chord turns.",
    ThingKind.OLD_NOTE: "Play the old note, then the new one, until your ear tells them apart. "
    "Then play the line below.",
    ThingKind.RESTART: "Go from one chord to the next by the smallest step you can find. The "
    "line below does it.",
    ThingKind.LINE: "Play the line below slowly. Go faster only when it is easy.",
    ThingKind.STEADINESS: "Tap your foot and play the line below slowly with the band. Keep "
    "each note as long as it is written.",
    ThingKind.FEEL: "Listen to the cymbals of the band, sing along, then play the line below "
    "slowly in the same way.",
    ThingKind.TUNING: "Play the line below slowly, hold {note} and listen until it stands still.",
    ThingKind.BREATH: "Play two bars, then leave two bars empty. The line below leaves you room.",
    ThingKind.RHYTHM: "Clap the line below before you play it, then clap one of your own.",
    ThingKind.RANGE: "Play the line below. Then play it again from a higher or a lower note.",
    ThingKind.FIGURE: "Play the line below, then answer it with something that is not like it.",
    ThingKind.FURTHER: "The line below has something new in it. Learn it by ear, bar by bar.",
    ThingKind.ANSWER: "Play the line below, and answer in the bars that are empty.",
}
"""How each thing is worked on."""


@dataclass(frozen=True, slots=True)
class StudentThing:
    """A thing to do next, in words.

    Attributes
    ----------
    title : str
    happened : str
        What was heard, and where.
    advice : str
        How to work on it.
    """

    title: str
    happened: str
    advice: str


NOT_JUDGED = "This take could not be judged; the reasons stand below."
NO_STRENGTH = "This time no bar can be named for certain. Ask your teacher which one was good."


def strength_words(strength: Strength | None, feedback: Feedback) -> str:
    """The strength with its bar."""
    if not feedback.is_judged:
        return NOT_JUDGED
    if strength is None:
        return NO_STRENGTH
    return _STRENGTHS[strength.kind](_Names(feedback), strength)


def thing_words(thing: NextThing, feedback: Feedback) -> StudentThing:
    """A thing to do next."""
    names = _Names(feedback)
    facts = {
        "chord": names.chord(thing.chord),
        "bar": names.bar(thing.bar),
        "new": names.new_notes(thing.chord),
        "note": str(thing.finding.note) if thing.finding and thing.finding.note else "one note",
    }
    if thing.finding is None:
        happened = _LEADING_ON[thing.kind].format(**facts)
    else:
        happened = _happened(names, thing, thing.finding)
    return StudentThing(
        TITLES[thing.kind].format(**facts), happened, ADVICE[thing.kind].format(**facts)
    )


def in_words(number: int) -> str:
    """A small number as a word."""
    return _NUMBERS[number] if number < len(_NUMBERS) else str(number)


@dataclass(frozen=True, slots=True)
class _Names:
    """What bars, chords and notes of a take are called."""

    feedback: Feedback

    def bar(self, bar: int) -> str:
        form = self.feedback.take.chart.form
        return bar_number(form[min(max(bar, 1), len(form)) - 1])

    def place(self, place: PassPlace) -> str:
        """``bar 6``, and which time where there are several."""
        if place.chorus < 1:
            return "the beginning"
        return f"bar {self.bar(place.bar)}{self.time(place)}"

    def time(self, place: PassPlace) -> str:
        passes = {change.place.chorus for change in self.feedback.changes}
        if len(passes) < 2 or place.chorus < 1:
            return ""
        return f" ({_TIMES.get(place.chorus, f'time {place.chorus}')})"

    def chord(self, chord: int) -> str:
        return str(self.feedback.take.part.symbol(chord))

    def new_notes(self, chord: int) -> str:
        """The notes that make a chord new."""
        return name_list(self.changing(chord)) or "the root of the new chord"

    def changing(self, chord: int) -> list[Name]:
        change = self.feedback.take.part.change(chord)
        return list(change.changing_notes) if change else []


def name_list(names: list[Name]) -> str:
    """Names in a sentence: ``F♯``, ``F♯ and C``."""
    *others, last = [str(name) for name in names] or [""]
    return f"{', '.join(others)} and {last}" if others else last


def chord_name(text: str) -> str:
    """A chord as it is printed, however its sharps and flats are typed; empty for none.

    >>> chord_name("Bb7")
    'B♭7'
    """
    return str(parse_symbol(text).moved(UNISON)) if text else ""


# The strength


def _written_bars(names: _Names, strength: Strength) -> str:
    first, last = strength.place, strength.until
    return (
        f"From bar {names.bar(first.bar)} to bar {names.bar(last.bar)}{names.time(first)} you "
        "played every note as it is written."
    )


def _changes_in_a_row(names: _Names, strength: Strength) -> str:
    first, last = names.place(strength.place), names.place(strength.until)
    count = in_words(strength.count)
    where = f"from {first} to {last}" if first != last else f"in {first}"
    return f"You made {count} changes in a row {where}: each new chord was heard in time."


def _change(names: _Names, strength: Strength) -> str:
    chord = names.chord(strength.chord)
    return f"In {names.place(strength.place)} you made the change to {chord} in time."


def _enclosure(names: _Names, strength: Strength) -> str:
    return (
        f"In {names.place(strength.place)} you played a note above and a note below, and only "
        "then the note between them. Players call that an enclosure."
    )


def _approach(names: _Names, strength: Strength) -> str:
    return (
        f"In {names.place(strength.place)} you led into a note from right beside it, so that it "
        f"sounded meant. Players call that an approach."
    )


def _anticipation(names: _Names, strength: Strength) -> str:
    return (
        f"In {names.place(strength.place)} you played the new chord a little ahead of the band, "
        "on purpose. Players call that an anticipation."
    )


def _landing(names: _Names, strength: Strength) -> str:
    assert strength.pitch is not None
    note = strength.pitch.name
    chord = names.chord(strength.chord)
    return f"In {names.place(strength.place)} you landed on {note} with the beat, right in {chord}."


_STRENGTHS = {
    StrengthKind.WRITTEN_BARS: _written_bars,
    StrengthKind.CHANGES_IN_A_ROW: _changes_in_a_row,
    StrengthKind.CHANGE: _change,
    StrengthKind.ENCLOSURE: _enclosure,
    StrengthKind.APPROACH: _approach,
    StrengthKind.ANTICIPATION: _anticipation,
    StrengthKind.LANDING: _landing,
}


# What happened

_LEADING_ON = {
    ThingKind.FURTHER: "There is nothing more to mend this time. Around bar {bar} most of the "
    "scale changes.",
    ThingKind.ANSWER: "Around bar {bar} there is room for an idea of yours.",
}


def _happened(names: _Names, thing: NextThing, finding: Finding) -> str:
    if thing.kind is ThingKind.LINE and len(thing.findings) > 1:
        count = in_words(len(thing.findings))
        return f"In bar {names.bar(thing.bar)} {count} things were not as they are written."
    sentence = HAPPENED[finding.kind].format(**_facts(names, finding, thing.chord))
    return sentence + _again(thing)


def _again(thing: NextThing) -> str:
    """That it came more than once."""
    count = len(thing.findings)
    times = "twice" if count == 2 else f"{in_words(count)} times"
    return f" That happened {times}." if count > 1 else ""


HAPPENED = {
    FindingKind.CHANGE_MISSED: "In {place} the chord turns to {chord}. {turn}The new chord was "
    "not heard before it was over.",
    FindingKind.CHANGE_HEARD: "In {place} the chord turns to {chord}. {turn}It was heard "
    "{lateness}.",
    FindingKind.OLD_NOTE_KEPT: "In {place}, over {chord}, you stayed on {note}. {became}",
    FindingKind.RESTART: "Around {place} you began each chord again from its root, so each one "
    "sounded like a new start.",
    FindingKind.BLUE_NOTE: "In {place} the blue note {note} stood for a long time and led nowhere.",
    FindingKind.FORM_SLIP: "From {place} on you were {slip}.",
    FindingKind.TRANSPOSITION: "What you played fits the chords as another instrument reads "
    "them. The rest is told as if you had read your own sheet.",
    FindingKind.OFFSET: "Most of your notes came {side} the beat.",
    FindingKind.UNEVEN: "Some of your notes came early and some late, so the beat was hard to "
    "feel.",
    FindingKind.RUSHING: "You got faster as you went on.",
    FindingKind.DRAGGING: "You got slower as you went on.",
    FindingKind.STRAIGHT: "The band swings, and your eighths were all equally long.",
    FindingKind.SWUNG: "The band plays even eighths, and yours swung.",
    FindingKind.SHARP: "Your {note} was a little too high.",
    FindingKind.FLAT: "Your {note} was a little too low.",
    FindingKind.MISSED: "In {place} {left_out} left out.",
    FindingKind.ADDED: "In {place} you played {note}, which is not written there.",
    FindingKind.CHANGED: "In {place} you played {note}, and {instead} is written.",
    FindingKind.LATE_NOTE: "In {place} {note} came late.",
    FindingKind.LONG_PHRASE: "From {place} on you played {long} bars without a breath.",
    FindingKind.NO_REST: "There was hardly a rest in all you played.",
    FindingKind.FEW_RHYTHMS: "Nearly all your notes came equally far from each other.",
    FindingKind.NARROW_RANGE: "All your notes lay close together.",
    FindingKind.REPEATED_FIGURE: "From {place} on one short idea came again and again.",
}
"""What is said to a student of each kind of fault."""


def _facts(names: _Names, finding: Finding, chord: int) -> dict[str, str]:
    """All that a sentence may name."""
    new = names.new_notes(chord) if names.changing(chord) else ""
    return {
        "place": names.place(finding.place),
        "chord": chord_name(finding.chord) or names.chord(chord),
        "turn": f"What is new in it: {new}. " if new else "",
        "note": str(finding.note.name) if finding.note else "a note",
        "instead": str(finding.instead.name) if finding.instead else "another note",
        "became": f"There it becomes {finding.instead.name}." if finding.instead else "",
        "left_out": _left_out(finding),
        "lateness": _lateness(finding.beats_late or 0.0),
        "slip": _slip(finding.bars or 0),
        "side": "after" if (finding.amount or 0.0) > 0 else "before",
        "long": in_words(finding.bars or 1),
    }


def _left_out(finding: Finding) -> str:
    if finding.note:
        return f"{finding.note.name} was"
    return "some notes were" if not finding.bars else f"{in_words(finding.bars)} bars were"


def _lateness(beats_late: float) -> str:
    if beats_late < 0:
        return "before the band played it"
    beats = round(beats_late)
    return f"{in_words(beats)} beat{'s' * (beats != 1)} late" if beats else "late"


def _slip(bars: int) -> str:
    count = f"{in_words(abs(bars))} bar{'s' * (abs(bars) != 1)}"
    return f"{count} {'behind' if bars > 0 else 'ahead of'} the band"
