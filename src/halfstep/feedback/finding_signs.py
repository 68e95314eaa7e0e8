"""Which sign stands where on the staff of a take? One for each finding, at its place.

What is heard of a change is a square: full on time, half filled late or early, empty missed.
Everything else is a word: in a frame what is to be mended, over dots what is craft or a plain
fact. What is not judged has no sign.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import replace
from fractions import Fraction

from halfstep.feedback.findings import Finding, FindingKind, PassPlace
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.feedback.take_staff import TakeStaff, take_staff
from halfstep.pitch import Pitch
from halfstep.score import PlaceSign, Score, SignShape

SIGN_WORDS = {
    FindingKind.CHANGE_HEARD: "",
    FindingKind.CHANGE_MISSED: "missed",
    FindingKind.OLD_NOTE_KEPT: "old note",
    FindingKind.RESTART: "from the root",
    FindingKind.APPROACH: "approach",
    FindingKind.ENCLOSURE: "enclosure",
    FindingKind.ANTICIPATION: "ahead",
    FindingKind.BLUE_NOTE: "blue note",
    FindingKind.FORM_SLIP: "other bar",
    FindingKind.OCTAVE: "octave",
    FindingKind.TRANSPOSITION: "other key",
    FindingKind.OFFSET: "beat",
    FindingKind.UNEVEN: "uneven",
    FindingKind.RUSHING: "faster",
    FindingKind.DRAGGING: "slower",
    FindingKind.STRAIGHT: "straight",
    FindingKind.SWUNG: "swung",
    FindingKind.SHARP: "sharp",
    FindingKind.FLAT: "flat",
    FindingKind.MISSED: "left out",
    FindingKind.ADDED: "added",
    FindingKind.CHANGED: "other note",
    FindingKind.LATE_NOTE: "late",
    FindingKind.LONG_PHRASE: "no breath",
    FindingKind.NO_REST: "no rest",
    FindingKind.FEW_RHYTHMS: "one rhythm",
    FindingKind.NARROW_RANGE: "small range",
    FindingKind.REPEATED_FIGURE: "one figure",
    FindingKind.NOT_JUDGED: "",
}
"""What stands at a finding of each kind."""

_CHANGES = {FindingKind.CHANGE_HEARD, FindingKind.CHANGE_MISSED}


def marked_staff(feedback: Feedback, *, title: str) -> TakeStaff:
    """The take on its player's staff, with a sign at every finding."""
    take, pitches = as_played(feedback)
    staff = take_staff(take, pitches, title=title)
    return replace(staff, score=_marked(staff, feedback))


def as_played(feedback: Feedback) -> tuple[JudgedTake, list[Pitch]]:
    """The take with its slips of the form, taken out where it is judged, and its pitches."""
    take = feedback.take
    named = [(roled.note, roled.pitch) for roled in feedback.notes]
    if _has_slips(feedback):
        named = [(_back(take, note), pitch) for note, pitch in named]
        named.sort(key=lambda pair: pair[0].place)
    notes = tuple(note for note, _ in named)
    return replace(take, notes=notes), [pitch for _, pitch in named]


def _back(take: JudgedTake, note: TakeNote) -> TakeNote:
    """A note in the bar where it was played."""
    return replace(note, place=note.place + _bars_away(take, note.sounded, note.place))


def _has_slips(feedback: Feedback) -> bool:
    return any(finding.kind is FindingKind.FORM_SLIP for finding in feedback.findings)


def _bars_away(take: JudgedTake, sounded: float, place: Fraction) -> Fraction:
    """Whole bars, in quarter notes, from where something was meant to where it was played."""
    bar = take.chart.form[0].beats
    return round((sounded - float(place)) / float(bar)) * bar


def _marked(staff: TakeStaff, feedback: Feedback) -> Score:
    signs: defaultdict[int, list[PlaceSign]] = defaultdict(list)
    for finding in signed(feedback.findings):
        at = _played_at(feedback, finding)
        bar = _bar_at(staff, at)
        place = min(max(at - staff.starts[bar], Fraction(0)), _last(staff, bar))
        signs[bar].append(PlaceSign(place, sign_shape(finding), sign_word(finding)))
    bars = (
        replace(bar, signs=tuple(sorted(signs[n], key=lambda sign: sign.at))) if signs[n] else bar
        for n, bar in enumerate(staff.score.bars)
    )
    return replace(staff.score, bars=tuple(bars))


def _played_at(feedback: Feedback, finding: Finding) -> Fraction:
    """Where on the staff a finding is; a slip itself stands where the band is."""
    at, take = beats_at(feedback, finding.place), feedback.take
    if not _has_slips(feedback) or finding.kind is FindingKind.FORM_SLIP:
        return at
    sounded = take.beats_at(finding.time_s)
    nearest = min(take.notes, key=lambda n: (abs(n.place - at), abs(n.sounded - sounded)))
    return at + _bars_away(take, nearest.sounded, nearest.place)


def signed(findings: Iterable[Finding]) -> Iterable[Finding]:
    """The findings that have a sign on the staff."""
    return (finding for finding in findings if finding.kind is not FindingKind.NOT_JUDGED)


def sign_shape(finding: Finding) -> SignShape:
    """The shape that stands at a finding."""
    if finding.kind is FindingKind.CHANGE_MISSED:
        return SignShape.EMPTY
    if finding.kind is FindingKind.CHANGE_HEARD:
        return SignShape.HALF if finding.fault else SignShape.FULL
    return SignShape.FRAMED if finding.fault else SignShape.DOTTED


def sign_word(finding: Finding) -> str:
    """The word that stands at a finding; of another note which one, and which it should be."""
    if finding.kind is FindingKind.CHANGE_HEARD and finding.fault:
        return "late" if (finding.beats_late or 0) > 0 else "early"
    if finding.note and finding.instead:
        return f"{finding.note.name} → {finding.instead.name}"
    if finding.kind is FindingKind.OFFSET:
        return "behind" if (finding.amount or 0) > 0 else "ahead"
    return SIGN_WORDS[finding.kind]


def beats_at(feedback: Feedback, place: PassPlace) -> Fraction:
    """A place in quarter notes from bar 1 of the first pass."""
    form = feedback.take.form
    bar = min(place.bar, len(form.bar_starts)) - 1
    beats = form.bar_starts[bar] + (place.beat - 1) * form.pulses[bar]
    return Fraction((place.chorus - 1) * form.beats + beats).limit_denominator(48)


def _bar_at(staff: TakeStaff, at: Fraction) -> int:
    """The bar of the score that a place lies in, or the nearest one."""
    before = [n for n, start in enumerate(staff.starts) if start <= at]
    return before[-1] if before else 0


def _last(staff: TakeStaff, bar: int) -> Fraction:
    """The last place of a bar that a sign may stand at."""
    beats = sum((note.beats for note in staff.score.bars[bar].notes), Fraction(0))
    return beats - Fraction(1, 4)
