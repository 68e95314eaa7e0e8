"""What does a take say of a unit's marks? Each measure in a figure, with how surely it is met.

Conventions
-----------
- A share is right over all; of a count, the findings that are faults are counted, in the take or
  in each chorus.
- How likely a mark is met follows from how certain each part of the figure is: a count is a sum
  of chances, exactly; a share the same by the normal curve.
- A take that meets its marks is nearly clean, no more, where two bars in a row are wrong: what is
  right over all would else hide the one spot that is to be mended.
- A measure that the take does not hold (no written line, no change to judge, another step) is
  left out; without any there is no verdict.

Source: the sum of unequal chances is the Poisson binomial distribution (from memory). What is
near a mark, and when a bar is wrong: common practice, no source.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from math import erf, floor, sqrt

from halfstep.course.unit import MARKED_STEPS, CourseUnit, Measure, PassMark
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.heard_changes import HeardChange
from halfstep.feedback.judge import Feedback
from halfstep.feedback.take_figures import ShareRight, TakeFigures, take_figures
from halfstep.practice.evidence import Verdict

TIME_FAULTS = frozenset(
    {
        FindingKind.UNEVEN,
        FindingKind.RUSHING,
        FindingKind.DRAGGING,
        FindingKind.STRAIGHT,
        FindingKind.SWUNG,
        FindingKind.OFFSET,
    }
)
PHRASE_FAULTS = frozenset(
    {
        FindingKind.LONG_PHRASE,
        FindingKind.NO_REST,
        FindingKind.FEW_RHYTHMS,
        FindingKind.NARROW_RANGE,
        FindingKind.REPEATED_FIGURE,
    }
)
NEAR_SHARE, NEAR_COUNT = 0.15, 1
"""How far from its mark a share may be, and a count, to be nearly met."""
WRONG_NOTES = frozenset({FindingKind.MISSED, FindingKind.CHANGED})
WRONG_IN_BAR = 3
"""Notes of a bar by which it is wrong, at the least."""


@dataclass(frozen=True, slots=True)
class PlayedTake:
    """What feedback says of a take, fresh or stored, as far as marks ask for it.

    Attributes
    ----------
    findings : tuple of Finding
    changes : tuple of HeardChange
    figures : TakeFigures
    """

    findings: tuple[Finding, ...]
    changes: tuple[HeardChange, ...]
    figures: TakeFigures


def played_take(feedback: Feedback) -> PlayedTake:
    """A take by its feedback."""
    return PlayedTake(feedback.findings, feedback.changes, take_figures(feedback))


@dataclass(frozen=True, slots=True)
class MarkResult:
    """A mark held against a take.

    Attributes
    ----------
    mark : PassMark
    value : float
        The measure's figure.
    chance : float
        How likely the mark is met, 0 to 1.
    is_met, is_near : bool
        By the figure alone; what is met is near, too.
    """

    mark: PassMark
    value: float
    chance: float
    is_met: bool
    is_near: bool

    @property
    def certainty(self) -> float:
        """How surely it is as `is_met` says."""
        return self.chance if self.is_met else 1 - self.chance


@dataclass(frozen=True, slots=True)
class TakeVerdict:
    """How a skill went in a take.

    Attributes
    ----------
    results : tuple of MarkResult
        Of the marks that the take can be held against.
    verdict : Verdict or None
        Clean where all are met and no spot is wrong, nearly where all are near; None where there
        are none.
    weight : float
        How surely that is so, 0 to 1: unsure hearing counts for less, and half a chorus.
    """

    results: tuple[MarkResult, ...]
    verdict: Verdict | None
    weight: float


def take_verdict(unit: CourseUnit, step: str, take: PlayedTake) -> TakeVerdict:
    """How a step of a unit went in a take."""
    results = tuple(
        result
        for mark in unit.marks
        if MARKED_STEPS.get(mark.measure, step) == step and (result := mark_result(mark, take))
    )
    if not results:
        return TakeVerdict((), None, 0.0)
    verdict, surely = _verdict(results), _surely(results)
    spot = _spot_certainty(take)
    if verdict is Verdict.CLEAN and spot > 1 - spot:
        verdict, surely = Verdict.NEARLY, spot
    weight = surely * take.figures.certainty * min(1.0, take.figures.choruses)
    return TakeVerdict(results, verdict, round(weight, 3))


def _verdict(results: Sequence[MarkResult]) -> Verdict:
    if all(result.is_met for result in results):
        return Verdict.CLEAN
    return Verdict.NEARLY if all(result.is_near for result in results) else Verdict.NOT_YET


def _surely(results: Sequence[MarkResult]) -> float:
    """All marks must be met for a clean take, and one not met is enough for another."""
    missed = [result.certainty for result in results if not result.is_met]
    return max(missed) if missed else min(result.certainty for result in results)


def _spot_certainty(take: PlayedTake) -> float:
    """How surely two bars one after the other are wrong; 0 where there are none."""
    bars = _wrong_bars(take)
    pairs = ((bars[place], bars.get((place[0], place[1] + 1), 0.0)) for place in bars)
    return max((min(pair) for pair in pairs), default=0.0)


def _wrong_bars(take: PlayedTake) -> dict[tuple[int, int], float]:
    """The bars that are wrong, by chorus and number, with how surely each is."""
    notes: defaultdict[tuple[int, int], list[float]] = defaultdict(list)
    for finding in take.findings:
        if finding.fault and finding.kind in WRONG_NOTES:
            chorus, bar = finding.place.chorus, finding.place.bar
            notes[chorus, bar].append(finding.certainty)
            for later in range(bar + 1, bar + (finding.bars or 0)):
                notes[chorus, later] += [finding.certainty] * WRONG_IN_BAR
    surest = {place: sorted(certainties, reverse=True) for place, certainties in notes.items()}
    return {
        place: certainties[WRONG_IN_BAR - 1]
        for place, certainties in surest.items()
        if len(certainties) >= WRONG_IN_BAR
    }


# Measures


@dataclass(frozen=True, slots=True)
class _Figure:
    """A measure of a take.

    Attributes
    ----------
    value : float
    chances : tuple of float
        That each of its parts counts.
    parts : float
        What the sum of them is divided by.
    """

    value: float
    chances: tuple[float, ...]
    parts: float


def measured(measure: Measure, take: PlayedTake) -> float | None:
    """The figure of a measure; None where the take does not hold it."""
    figure = _figure(measure, take)
    return None if figure is None else figure.value


def mark_result(mark: PassMark, take: PlayedTake) -> MarkResult | None:
    """A mark held against a take; None where that does not hold the measure."""
    figure = _figure(mark.measure, take)
    if figure is None:
        return None
    value, least, most = figure.value, mark.at_least, mark.at_most
    if least is not None:
        chance = _chance_of_share(figure, least)
        return MarkResult(mark, value, chance, value >= least, value >= least - NEAR_SHARE)
    assert most is not None
    chance = _chance_of_count(figure.chances, most * figure.parts)
    return MarkResult(mark, value, chance, value <= most, value <= most + NEAR_COUNT)


def _figure(measure: Measure, take: PlayedTake) -> _Figure | None:
    return _MEASURES[measure](take) if take.figures.is_judged else None


def _changes_on_time(take: PlayedTake) -> _Figure | None:
    changes = [change for change in take.changes if change.is_judged]
    on_time = [change.is_on_time for change in changes]
    certainties = [change.certainty for change in changes]
    return _share(on_time, certainties) if changes else None


def _share_right(share: ShareRight | None) -> _Figure | None:
    if share is None or not share.of:
        return None
    rights = [place < share.right for place in range(share.of)]
    return _share(rights, [share.certainty] * share.of)


def _share(rights: Sequence[bool], certainties: Sequence[float]) -> _Figure:
    chances = (c if right else 1 - c for right, c in zip(rights, certainties, strict=True))
    return _Figure(sum(rights) / len(rights), tuple(chances), len(rights))


def _faults(kinds: Iterable[FindingKind], *, each_chorus: bool = False) -> _Measured:
    """The measure that counts findings of these kinds that are faults."""
    counted = frozenset(kinds)

    def figure(take: PlayedTake) -> _Figure:
        chances = tuple(f.certainty for f in take.findings if f.fault and f.kind in counted)
        parts = max(1.0, take.figures.choruses) if each_chorus else 1.0
        return _Figure(len(chances) / parts, chances, parts)

    return figure


_Measured = Callable[[PlayedTake], _Figure | None]

_MEASURES: dict[Measure, _Measured] = {
    Measure.CHANGES_ON_TIME: _changes_on_time,
    Measure.NOTES_RIGHT: lambda take: _share_right(take.figures.line),
    Measure.OLD_NOTES: _faults({FindingKind.OLD_NOTE_KEPT}, each_chorus=True),
    Measure.FORM_SLIPS: _faults({FindingKind.FORM_SLIP}),
    Measure.RESTARTS: _faults({FindingKind.RESTART}, each_chorus=True),
    Measure.TIME_FAULTS: _faults(TIME_FAULTS),
    Measure.PHRASE_FAULTS: _faults(PHRASE_FAULTS),
    Measure.ECHOED_RIGHT: lambda take: _share_right(take.figures.echo),
    Measure.MOTIF_KEPT: lambda take: _share_right(take.figures.motif),
}


# Chances


def _chance_of_share(figure: _Figure, least: float) -> float:
    """That the share of parts that count is so large, half a part given either way."""
    mean = sum(figure.chances)
    spread = sqrt(sum(chance * (1 - chance) for chance in figure.chances))
    over = mean - least * figure.parts + 0.5
    if spread == 0:
        return float(over >= 0)
    return 0.5 * (1 + erf(over / (spread * sqrt(2))))


def _chance_of_count(chances: Sequence[float], most: float) -> float:
    """That so many of the parts are true, or fewer."""
    odds = [1.0]
    for chance in chances:
        padded = [*odds, 0.0]
        odds = [
            stays * (1 - chance) + less * chance
            for stays, less in zip(padded, [0.0, *odds], strict=True)
        ]
    return min(1.0, sum(odds[: floor(most + 1e-9) + 1]))
