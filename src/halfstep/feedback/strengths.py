"""What went well, and in which bar? One thing, told first.

Conventions: of changes in a row those where nothing differs, or that are not judged, neither
count nor break the row.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import groupby

from halfstep.feedback.finding_signs import beats_at
from halfstep.feedback.findings import Finding, FindingKind, PassPlace
from halfstep.feedback.heard_changes import HeardChange
from halfstep.feedback.judge import Feedback
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.chord_arrivals import JUDGED, ChangeVerdict
from halfstep.pitch import Pitch


class StrengthKind(StrEnum):
    """The kinds of strength, by the names they are stored under."""

    WRITTEN_BARS = "written-bars"
    CHANGES_IN_A_ROW = "changes-in-a-row"
    CHANGE = "change"
    ENCLOSURE = "enclosure"
    APPROACH = "approach"
    ANTICIPATION = "anticipation"
    LANDING = "landing"


@dataclass(frozen=True, slots=True)
class Strength:
    """Something that went well.

    Attributes
    ----------
    kind : StrengthKind
    place : PassPlace
        Where it begins.
    until : PassPlace
        Where it ends.
    count : int
        How many changes, bars or notes.
    chord : int
        The place in the analysis of the chord it begins on.
    pitch : Pitch or None
        The written pitch of the note it is about.
    """

    kind: StrengthKind
    place: PassPlace
    until: PassPlace
    count: int = 1
    chord: int = 0
    pitch: Pitch | None = None


LEAST_BARS, LEAST_ROW = 2, 2
"""Bars as they are written, and changes in a row, that are told before craft."""
_CRAFT = {
    FindingKind.ENCLOSURE: StrengthKind.ENCLOSURE,
    FindingKind.ANTICIPATION: StrengthKind.ANTICIPATION,
    FindingKind.APPROACH: StrengthKind.APPROACH,
}
_OF_LINE = {FindingKind.MISSED, FindingKind.ADDED, FindingKind.CHANGED, FindingKind.LATE_NOTE}


def strength(feedback: Feedback) -> Strength | None:
    """The strength that is told first; None where no bar has one that is certain."""
    return next(_strengths(feedback), None) if feedback.is_judged else None


def _strengths(feedback: Feedback) -> Iterator[Strength]:
    """Strengths, the one most worth telling first."""
    rows = list(_rows(feedback))
    longest = max(rows, key=len, default=[])
    yield from _written_bars(feedback)
    if len(longest) >= LEAST_ROW:
        yield _row(longest)
    yield from _craft(feedback)
    if longest:
        yield _row(longest)
    yield from _landings(feedback)


def _rows(feedback: Feedback) -> Iterator[list[HeardChange]]:
    """Changes on time one after another."""
    judged = [change for change in feedback.changes if change.verdict in JUDGED]
    for verdict, group in groupby(judged, key=lambda change: change.verdict):
        if verdict is ChangeVerdict.ON_TIME:
            yield list(group)


def _row(changes: Sequence[HeardChange]) -> Strength:
    first, last = changes[0], changes[-1]
    kind = StrengthKind.CHANGES_IN_A_ROW if len(changes) > 1 else StrengthKind.CHANGE
    return Strength(kind, first.place, last.place, len(changes), first.chord)


def _craft(feedback: Feedback) -> Iterator[Strength]:
    """Craft that was heard, the most certain of the rarest kind first."""
    findings = [f for f in feedback.findings if f.kind in _CRAFT and not f.fault]
    for kind, name in _CRAFT.items():
        of_kind = [finding for finding in findings if finding.kind is kind]
        if of_kind:
            best = max(of_kind, key=lambda finding: finding.certainty)
            chord = feedback.take.chord_at(float(beats_at(feedback, best.place)))
            yield Strength(name, best.place, best.until or best.place, 1, chord)


# Written bars


def _written_bars(feedback: Feedback) -> Iterator[Strength]:
    """The longest stretch of bars of a written line, its rests too, without a fault."""
    take, bars = feedback.take, len(feedback.take.chart.form)
    played = [_bar(take.place_at(note.onset)) for note in take.notes if note.onset >= -0.25]
    if not take.line or take.alignment is None or not take.alignment.matches or not played:
        return
    (first_chorus, first_bar), (last_chorus, last_bar) = min(played), max(played)
    count = (last_chorus - first_chorus) * bars + last_bar - first_bar + 1
    whole = set(_bars_on(first_chorus, first_bar, count, bars))
    faulty = {
        bar
        for finding in feedback.findings
        if finding.kind in _OF_LINE
        for bar in _bars_of(finding, bars)
    }
    runs = list(_runs(sorted(whole - faulty)))
    longest = max(runs, key=len, default=[])
    if len(longest) >= LEAST_BARS:
        places = [PassPlace(chorus, bar, 1.0) for chorus, bar in longest]
        chord = take.chord_at(float(beats_at(feedback, places[0])))
        yield Strength(StrengthKind.WRITTEN_BARS, places[0], places[-1], len(longest), chord)


def _bar(place: PassPlace) -> tuple[int, int]:
    return place.chorus, place.bar


def _bars_of(finding: Finding, form_bars: int) -> Iterator[tuple[int, int]]:
    """The bars that a finding lies in."""
    yield from _bars_on(*_bar(finding.place), max(1, finding.bars or 1), form_bars)


def _bars_on(chorus: int, bar: int, count: int, form_bars: int) -> Iterator[tuple[int, int]]:
    """So many bars from one on, from the end of the form to its beginning."""
    for place in range(bar, bar + count):
        yield chorus + (place - 1) // form_bars, (place - 1) % form_bars + 1


def _runs(bars: Iterable[tuple[int, int]]) -> Iterator[list[tuple[int, int]]]:
    """Bars that follow each other, of one pass."""
    run: list[tuple[int, int]] = []
    for chorus, bar in bars:
        if run and (chorus, bar - 1) != run[-1]:
            yield run
            run = []
        run.append((chorus, bar))
    if run:
        yield run


# Landings


def _landings(feedback: Feedback) -> Iterator[Strength]:
    """Chord tones where a bar begins: a third or seventh before a root or fifth."""
    take = feedback.take
    landings = [r for r in feedback.notes if r.note.place >= 0 and _guides(feedback, r.note)]
    for roled in landings[:1]:
        note = roled.note
        place = take.place_at(float(note.place))
        chord = take.chord_at(float(note.place))
        yield Strength(StrengthKind.LANDING, place, place, 1, chord, roled.pitch)


def _guides(feedback: Feedback, note: TakeNote) -> bool:
    """True for a guide tone of its chord on the first beat of a bar."""
    take = feedback.take
    chord = take.analysis.chords[take.chord_at(float(note.place))]
    if chord.silent:
        return False
    guides = {tone.name.pitch_class for tone in chord.guides}
    at_start = take.place_at(float(note.place)).beat == 1.0
    return at_start and note.certainty > 0.8 and note.midi % 12 in guides
