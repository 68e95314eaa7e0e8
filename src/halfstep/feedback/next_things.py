"""Which two things does a player do next? The two that matter most, each with its spot.

Findings that ask for the same work are one thing: a change that was missed in three passes, a
note that was sharp wherever it came. What weighs most is told: how much a fault is heard, how
sure it is, and how often it came. Where nothing is to be mended, a thing leads further.

Conventions: a spot is a bar of the form, from 1, that the work is laid around.

Weights: common practice, no source.
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence, Set
from dataclasses import dataclass
from enum import StrEnum

from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.judge import Feedback


class ThingKind(StrEnum):
    """What a thing works on, by the names they are stored under."""

    KEY = "key"
    FORM = "form"
    CHANGE = "change"
    OLD_NOTE = "old-note"
    RESTART = "restart"
    LINE = "line"
    STEADINESS = "steadiness"
    FEEL = "feel"
    TUNING = "tuning"
    BREATH = "breath"
    RHYTHM = "rhythm"
    RANGE = "range"
    FIGURE = "figure"
    FURTHER = "further"
    ANSWER = "answer"


@dataclass(frozen=True, slots=True)
class NextThing:
    """Something to do next.

    Attributes
    ----------
    kind : ThingKind
    bar : int
        The spot.
    findings : tuple of Finding
        What it is told from, in order of time; none where nothing is to be mended.
    is_often : bool
        It came again and again: the step below is asked for.
    is_slower : bool
        It is a matter of time: a slower tempo is asked for.
    chord : int
        The place in the analysis of the chord at the spot.
    """

    kind: ThingKind
    bar: int
    findings: tuple[Finding, ...]
    is_often: bool
    is_slower: bool
    chord: int

    @property
    def finding(self) -> Finding | None:
        """The most certain one that it is told from."""
        return max(self.findings, key=lambda finding: finding.certainty, default=None)


THINGS = 2
KINDS = {
    FindingKind.TRANSPOSITION: (ThingKind.KEY, 6.0),
    FindingKind.FORM_SLIP: (ThingKind.FORM, 5.0),
    FindingKind.CHANGE_MISSED: (ThingKind.CHANGE, 3.0),
    FindingKind.OLD_NOTE_KEPT: (ThingKind.OLD_NOTE, 3.0),
    FindingKind.CHANGE_HEARD: (ThingKind.CHANGE, 2.0),
    FindingKind.RESTART: (ThingKind.RESTART, 1.5),
    FindingKind.BLUE_NOTE: (ThingKind.OLD_NOTE, 1.0),
    FindingKind.MISSED: (ThingKind.LINE, 1.5),
    FindingKind.CHANGED: (ThingKind.LINE, 1.5),
    FindingKind.ADDED: (ThingKind.LINE, 1.0),
    FindingKind.LATE_NOTE: (ThingKind.LINE, 1.0),
    FindingKind.RUSHING: (ThingKind.STEADINESS, 2.5),
    FindingKind.DRAGGING: (ThingKind.STEADINESS, 2.5),
    FindingKind.UNEVEN: (ThingKind.STEADINESS, 2.0),
    FindingKind.OFFSET: (ThingKind.STEADINESS, 2.0),
    FindingKind.STRAIGHT: (ThingKind.FEEL, 2.0),
    FindingKind.SWUNG: (ThingKind.FEEL, 2.0),
    FindingKind.SHARP: (ThingKind.TUNING, 1.5),
    FindingKind.FLAT: (ThingKind.TUNING, 1.5),
    FindingKind.LONG_PHRASE: (ThingKind.BREATH, 1.5),
    FindingKind.NO_REST: (ThingKind.BREATH, 2.0),
    FindingKind.FEW_RHYTHMS: (ThingKind.RHYTHM, 1.2),
    FindingKind.NARROW_RANGE: (ThingKind.RANGE, 1.2),
    FindingKind.REPEATED_FIGURE: (ThingKind.FIGURE, 1.2),
}
"""What works on a fault of each kind, and how much one weighs."""

AFTER_BARS = 2
"""Spots that lie farther apart are worked on apart."""
OFTEN, OFTEN_IN_A_BAR = 2, 4
"""From so many on, something came again and again; of the notes of one bar from more on."""
_AT_A_BAR = {ThingKind.CHANGE, ThingKind.OLD_NOTE, ThingKind.LINE}
"""What is worked on where it was; the rest is one thing wherever it was."""
_WHEREVER = {
    ThingKind.KEY, ThingKind.STEADINESS, ThingKind.FEEL, ThingKind.RHYTHM, ThingKind.RANGE,
}  # fmt: skip
"""What is no matter of a bar: it is worked on where the form begins."""
_FIRST_SPOT = 2
_IN_TIME = {ThingKind.STEADINESS, ThingKind.FEEL, ThingKind.LINE}
_AGAIN, _SAME_KIND = 0.4, 0.6
"""What a fault weighs that comes once more, and a second thing of a kind."""


def next_things(feedback: Feedback) -> tuple[NextThing, ...]:
    """Two things to do next, the more urgent first; none for a take that is not judged."""
    if not feedback.is_judged or not feedback.take.notes:
        return ()
    things = list(_mending(feedback))
    first = max(things, key=_urgency, default=None)
    if first is None:
        chosen: list[NextThing] = []
    else:
        rest = [thing for thing in things if not _same_work(thing, first)]
        chosen = [first, *sorted(rest, key=lambda t: -_urgency(t, first))[: THINGS - 1]]
    return (*chosen, *_further(feedback, chosen))[:THINGS]


def _mending(feedback: Feedback) -> Iterator[NextThing]:
    """The faults, put together where one piece of work mends them."""
    groups: defaultdict[tuple[ThingKind, int, str], list[Finding]] = defaultdict(list)
    for finding in feedback.findings:
        if finding.fault and finding.kind in KINDS:
            kind, _ = KINDS[finding.kind]
            bar = _bar_of(finding) if kind in _AT_A_BAR else 0
            groups[kind, bar, _matter(kind, finding)].append(finding)
    for (kind, _, _), findings in groups.items():
        yield _thing(feedback, kind, findings)


def _bar_of(finding: Finding) -> int:
    """The bar of a finding; what is played before bar 1 belongs to it."""
    return finding.place.bar if finding.place.chorus >= 1 else 1


def _matter(kind: ThingKind, finding: Finding) -> str:
    """What findings of one kind must have in common to be one thing."""
    if kind is ThingKind.TUNING:
        return f"{finding.kind} {finding.note}"
    return "" if kind in _AT_A_BAR else str(finding.kind)


def _thing(feedback: Feedback, kind: ThingKind, findings: Sequence[Finding]) -> NextThing:
    bars = Counter(map(_bar_of, findings))
    last = len(feedback.take.chart.form)
    bar = min(_FIRST_SPOT, last) if kind in _WHEREVER else bars.most_common(1)[0][0]
    return NextThing(
        kind,
        bar,
        tuple(findings),
        is_often=len(findings) >= (OFTEN_IN_A_BAR if kind is ThingKind.LINE else OFTEN),
        is_slower=kind in _IN_TIME,
        chord=_chord_in(feedback, bar, findings),
    )


def _chord_in(feedback: Feedback, bar: int, findings: Sequence[Finding] = ()) -> int:
    """The chord of the spot: where the first finding in it stands."""
    form = feedback.take.form
    beat = next((f.place.beat for f in findings if _bar_of(f) == bar and f.place.chorus), 1.0)
    return form.chord_at(form.bar_starts[bar - 1] + (beat - 1) * form.pulses[bar - 1])


def _urgency(thing: NextThing, first: NextThing | None = None) -> float:
    """How much a thing weighs, and less beside another of its kind."""
    weights = sorted((KINDS[f.kind][1] * f.certainty for f in thing.findings), reverse=True)
    total = sum(weight * _AGAIN ** min(n, 4) for n, weight in enumerate(weights))
    return total * (_SAME_KIND if first and first.kind is thing.kind else 1.0)


def _same_work(thing: NextThing, other: NextThing) -> bool:
    """True where two things are worked on with one etude: the same change, or the same bar."""
    if thing is other:
        return True
    at_changes = {ThingKind.CHANGE, ThingKind.OLD_NOTE}
    both = thing.kind in at_changes and other.kind in at_changes
    return (both or thing.kind is other.kind) and abs(thing.bar - other.bar) <= 1


# Further


def _further(feedback: Feedback, chosen: Sequence[NextThing]) -> Iterator[NextThing]:
    """What leads further: the bars where most of the scale changes, and others than these."""
    bars = {thing.bar for thing in chosen}
    for kind in (ThingKind.FURTHER, ThingKind.ANSWER):
        bar = _bar_apart(feedback, bars)
        bars.add(bar)
        yield NextThing(
            kind,
            bar,
            (),
            is_often=False,
            is_slower=False,
            chord=_chord_in(feedback, bar),
        )


def _bar_apart(feedback: Feedback, bars: Set[int]) -> int:
    """The bar with the most changing notes that lies apart from these; any where none does."""
    ranked = _by_changing_notes(feedback)
    apart = (bar for bar in ranked if all(abs(bar - other) > AFTER_BARS for other in bars))
    return next(apart, ranked[0])


def _by_changing_notes(feedback: Feedback) -> list[int]:
    """The bars of the form, those with the most changing notes first."""
    analysis, form = feedback.take.analysis, feedback.take.form
    counts: Counter[int] = Counter({bar.number: 0 for bar in feedback.take.chart.form})
    for place in range(len(analysis.chords)):
        change = analysis.changing_into(place)
        if change is not None:
            counts[form.place_at(form.chord_starts[place]).bar] += len(change.changing_notes)
    return [bar for bar, _ in counts.most_common()]
