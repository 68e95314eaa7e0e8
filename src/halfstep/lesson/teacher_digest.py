"""What does a teacher read of a take in two minutes? What is to be mended, what is craft, and
what was not judged, each with its places and how sure it is.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import groupby

from halfstep.errors import worded
from halfstep.feedback.findings import Finding, FindingKind, PassPlace, Unit
from halfstep.feedback.judge import Feedback
from halfstep.feedback.next_things import KINDS
from halfstep.harmony.chord_arrivals import JUDGED, ChangeVerdict
from halfstep.lesson.student_words import chord_name
from halfstep.lesson.take_page import clock_text
from halfstep.part.places import bar_number

KIND_WORDS = {
    FindingKind.CHANGE_HEARD: "change late or early",
    FindingKind.CHANGE_MISSED: "change missed",
    FindingKind.OLD_NOTE_KEPT: "old note kept",
    FindingKind.RESTART: "chords begun again from the root",
    FindingKind.APPROACH: "approach",
    FindingKind.ENCLOSURE: "enclosure",
    FindingKind.ANTICIPATION: "anticipation",
    FindingKind.BLUE_NOTE: "blue note",
    FindingKind.FORM_SLIP: "another place in the form",
    FindingKind.OCTAVE: "an octave from what is written",
    FindingKind.TRANSPOSITION: "read for another instrument",
    FindingKind.OFFSET: "away from the beat",
    FindingKind.UNEVEN: "uneven time",
    FindingKind.RUSHING: "getting faster",
    FindingKind.DRAGGING: "getting slower",
    FindingKind.STRAIGHT: "even eighths where the feel swings",
    FindingKind.SWUNG: "swung eighths where the feel is even",
    FindingKind.SHARP: "sharp",
    FindingKind.FLAT: "flat",
    FindingKind.MISSED: "left out",
    FindingKind.ADDED: "added",
    FindingKind.CHANGED: "another note",
    FindingKind.LATE_NOTE: "late note",
    FindingKind.LONG_PHRASE: "long phrase without a breath",
    FindingKind.NO_REST: "hardly a rest",
    FindingKind.FEW_RHYTHMS: "nearly one rhythm",
    FindingKind.NARROW_RANGE: "small range",
    FindingKind.REPEATED_FIGURE: "one figure again and again",
    FindingKind.NOT_JUDGED: "not judged",
}
"""What each kind of finding is called."""

VERDICT_WORDS = {
    ChangeVerdict.ON_TIME: "in time",
    ChangeVerdict.EARLY: "early",
    ChangeVerdict.LATE: "late",
    ChangeVerdict.MISSED: "missed",
    ChangeVerdict.NOTHING_DIFFERS: "nothing differs",
    ChangeVerdict.NOT_JUDGED: "not judged",
}
OF_THE_WHOLE = frozenset(
    {
        FindingKind.OCTAVE, FindingKind.TRANSPOSITION, FindingKind.OFFSET, FindingKind.UNEVEN,
        FindingKind.RUSHING, FindingKind.DRAGGING, FindingKind.STRAIGHT, FindingKind.SWUNG,
        FindingKind.NO_REST, FindingKind.FEW_RHYTHMS, FindingKind.NARROW_RANGE,
    }
)  # fmt: skip
"""What is said of a take as a whole."""
MOST_PLACES = 4
"""Places of one kind that are told in full; the rest stands in the data."""
_SURE, _LIKELY = 0.9, 0.75


@dataclass(frozen=True, slots=True)
class DigestRow:
    """Findings of one kind.

    Attributes
    ----------
    title : str
        What it is, and how often.
    places : tuple of str
        Where, with what was heard.
    sureness : str
        In words, of the least sure.
    """

    title: str
    places: tuple[str, ...]
    sureness: str


@dataclass(frozen=True, slots=True)
class TeacherDigest:
    """What a teacher reads first.

    Attributes
    ----------
    changes : str
        How many were heard in time, late, missed.
    mend, craft : tuple of DigestRow
        The heaviest kind first.
    doubts : tuple of str
        What stands against judging the take.
    not_judged : tuple of str
        That, and changes that were not judged.
    """

    changes: str
    mend: tuple[DigestRow, ...]
    craft: tuple[DigestRow, ...]
    doubts: tuple[str, ...]
    not_judged: tuple[str, ...]


def teacher_digest(feedback: Feedback) -> TeacherDigest:
    """The digest of a take."""
    findings = [f for f in feedback.findings if f.kind is not FindingKind.NOT_JUDGED]
    return TeacherDigest(
        _changes(feedback),
        tuple(_rows(feedback, [finding for finding in findings if finding.fault])),
        tuple(_rows(feedback, [f for f in findings if not f.fault and not _is_plain(f)])),
        _doubts(feedback),
        (*_doubts(feedback), *_unjudged_changes(feedback)),
    )


def _is_plain(finding: Finding) -> bool:
    """True for a change in time, which the row of changes tells."""
    return finding.kind is FindingKind.CHANGE_HEARD


def _changes(feedback: Feedback) -> str:
    verdicts = [change.verdict for change in feedback.changes]
    judged = sum(verdict in JUDGED for verdict in verdicts)
    if not verdicts:
        return "No chord changes while the take goes on."
    counts = ((verdict, verdicts.count(verdict)) for verdict in VERDICT_WORDS)
    parts = [f"{count} {VERDICT_WORDS[verdict]}" for verdict, count in counts if count]
    return f"Changes ({judged} of {len(verdicts)} judged): {', '.join(parts)}."


def _doubts(feedback: Feedback) -> tuple[str, ...]:
    reasons = (f.reason for f in feedback.findings if f.kind is FindingKind.NOT_JUDGED)
    return tuple(worded(reason, str) for reason in dict.fromkeys(reasons))


def _unjudged_changes(feedback: Feedback) -> Iterator[str]:
    if not feedback.is_judged:
        return
    reasons = [c.reason for c in feedback.changes if c.verdict is ChangeVerdict.NOT_JUDGED]
    for reason in dict.fromkeys(reasons):
        count = reasons.count(reason)
        yield f"{count} change{'s' * (count != 1)}: {reason or 'too little was heard there'}"


def _rows(feedback: Feedback, findings: Sequence[Finding]) -> Iterator[DigestRow]:
    """A row for each kind, the heaviest first."""
    by_kind = sorted(findings, key=lambda finding: (-_weight(finding), finding.kind))
    for kind, group in groupby(by_kind, key=lambda finding: finding.kind):
        row = sorted(group, key=lambda finding: finding.time_s)
        count = f" ({len(row)} times)" if len(row) > 1 else ""
        yield DigestRow(
            KIND_WORDS[kind] + count,
            (*(evidence(feedback, f) for f in row[:MOST_PLACES]), *_rest(row)),
            sureness(min(finding.certainty for finding in row)),
        )


def _weight(finding: Finding) -> float:
    return KINDS[finding.kind][1] if finding.kind in KINDS else 0.0


def _rest(row: Sequence[Finding]) -> Iterator[str]:
    if len(row) > MOST_PLACES:
        yield f"and {len(row) - MOST_PLACES} more in the data"


def sureness(certainty: float) -> str:
    """How sure something is, in a word.

    >>> sureness(0.95), sureness(0.8), sureness(0.65)
    ('sure', 'likely', 'perhaps')
    """
    return "sure" if certainty >= _SURE else "likely" if certainty >= _LIKELY else "perhaps"


def evidence(feedback: Feedback, finding: Finding) -> str:
    """Where a finding is, and what it is told from."""
    facts = ", ".join(filter(None, _facts(finding)))
    return _where(feedback, finding) + (f": {facts}" if facts else "")


def _where(feedback: Feedback, finding: Finding) -> str:
    """The place and the time in the recording."""
    if finding.kind in OF_THE_WHOLE:
        return "the take as a whole"
    place = place_words(feedback, finding.place)
    until = f" to {place_words(feedback, finding.until)}" if finding.until else ""
    return f"{place}{until} at {clock_text(max(0.0, finding.time_s))}"


def place_words(feedback: Feedback, place: PassPlace) -> str:
    """``bar 6, beat 3``, and which pass where there are several."""
    if place.chorus < 1:
        return "before bar 1"
    form = feedback.take.chart.form
    bar = bar_number(form[min(max(place.bar, 1), len(form)) - 1])
    nearest = round(4 * place.beat) / 4
    beat = f", beat {nearest:g}" if nearest != 1 else ""
    several = any(change.place.chorus > 1 for change in feedback.changes)
    return f"bar {bar}{beat}{f' of pass {place.chorus}' if several else ''}"


def _facts(finding: Finding) -> Iterator[str]:
    """The evidence: note, chord, amount."""
    if finding.note:
        instead = f" for {finding.instead}" if finding.instead else ""
        yield f"{finding.note}{instead}"
    if finding.chord:
        yield f"{'over' if finding.note else 'to'} {chord_name(finding.chord)}"
    if finding.beats_late:
        yield _beats(finding.beats_late)
    if finding.kind is FindingKind.FORM_SLIP and finding.bars:
        side = "late" if finding.bars > 0 else "early"
        yield f"{abs(finding.bars)} bar{'s' * (abs(finding.bars) != 1)} {side}"
    if finding.amount is not None and finding.unit:
        yield _amount(finding.amount, finding.unit, finding.interval)
    if finding.reason:
        yield finding.reason


def _beats(beats_late: float) -> str:
    side = "late" if beats_late > 0 else "early"
    beats = f"{abs(beats_late):.2g}"
    return f"{beats} beat{'s' * (beats != '1')} {side}"


_UNITS = {Unit.MS: "ms", Unit.CENTS: "cents", Unit.PERCENT: "percent"}


def _amount(amount: float, unit: Unit, interval: tuple[float, float] | None) -> str:
    """A measured amount, and what it lies between."""
    spread = f" ({interval[0]:.0f} to {interval[1]:.0f})" if interval else ""
    return f"{amount:+.0f} {_UNITS[unit]}{spread}".replace("-", "−")
