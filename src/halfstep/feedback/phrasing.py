"""How are phrases made? Breaths, rests, rhythms, range and figures of an improvised take.

All are told of the take as a whole, but a phrase that takes more than a breath. What a level
is asked for lies below what good players do, so that none of them is told anything here; a
written line has the phrases that its step has, and is told nothing.

Source: the quartiles of phrases (8, 14, 24 notes; 4, 6.9, 12.6 beats, and 1.2, 1.9, 3.0 of
rest) and the share of time that sounds (64 %) were counted on 427 transcribed solos (tables
of the jazzodata repository, MIT). The limits are common practice, no source, and were held
against 76 of those solos.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import pairwise

from halfstep.etude.etude_brief import BREATH_S
from halfstep.feedback.findings import Finding, FindingKind, Unit
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.repeated_figures import figures_of, is_run
from halfstep.feedback.take_note import TakeNote
from halfstep.level import Level

LONGEST_S = {Level.BEGINNER: BREATH_S, Level.INTERMEDIATE: 11.0, Level.ADVANCED: 13.0}
"""What a breath may have to last."""
REST_BEATS, REST_S = 0.4, 0.2
"""A silence of so many beats and seconds parts two phrases."""
FEWEST_NOTES = 24
FEWEST_BARS = 8
"""Of a take that is told how it is phrased."""
FULL_SHARE = 0.92
"""The share of the time that sounds in a take without rests."""
NARROWEST = {Level.BEGINNER: 5, Level.INTERMEDIATE: 8, Level.ADVANCED: 10}
"""Semitones from the lowest note to the highest, a twentieth of either end left out."""
ONE_RHYTHM = {Level.BEGINNER: 0.95, Level.INTERMEDIATE: 0.9, Level.ADVANCED: 0.85}
"""The share of notes that follow the one before at one and the same distance."""
FIGURE_NOTES = 4
ONE_FIGURE = {Level.BEGINNER: 0.5, Level.INTERMEDIATE: 0.45, Level.ADVANCED: 0.4}
"""The share of notes that belong to one figure of `FIGURE_NOTES`, on whatever degree."""
_SURE = 0.95
_TAIL = 0.05

Phrase = Sequence[TakeNote]


def phrasing_findings(take: JudgedTake) -> Iterator[Finding]:
    """What there is to say of the phrases of an improvised take."""
    if take.line or not take.notes:
        return
    phrases = list(phrases_of(take))
    yield from _long_phrases(take, phrases)
    bars = (take.notes[-1].onset - take.notes[0].onset) / (take.form.beats / len(take.chart.form))
    if len(take.notes) >= FEWEST_NOTES and bars >= FEWEST_BARS:
        yield from _no_rest(take, phrases)
        yield from _few_rhythms(take)
        yield from _narrow_range(take)
        yield from _repeated_figure(take)


def phrases_of(take: JudgedTake) -> Iterator[Phrase]:
    """The notes between rests."""
    least = max(REST_BEATS, REST_S / take.clock.quarter_s)
    phrase = [take.notes[0]]
    for before, note in pairwise(take.notes):
        if note.onset - (before.onset + before.beats) >= least:
            yield phrase
            phrase = []
        phrase.append(note)
    yield phrase


def _sounding(phrase: Phrase) -> float:
    """How long a phrase lasts, in quarter notes."""
    return phrase[-1].onset + phrase[-1].beats - phrase[0].onset


def _long_phrases(take: JudgedTake, phrases: Sequence[Phrase]) -> Iterator[Finding]:
    """Phrases that take more than a breath."""
    for phrase in phrases if take.part.instrument.breath else ():
        if _sounding(phrase) * take.clock.quarter_s <= LONGEST_S[take.level]:
            continue
        start, until = take.place_at(float(phrase[0].place)), take.place_at(float(phrase[-1].place))
        yield Finding(
            kind=FindingKind.LONG_PHRASE,
            fault=True,
            place=start,
            time_s=take.time_s(phrase[0].sounded),
            certainty=_SURE,
            bars=take.bars_touched(start, until),
            until=until,
        )


def _of_whole(
    take: JudgedTake, kind: FindingKind, share: float | None = None, notes: Phrase | None = None
) -> Finding:
    first = (notes or take.notes)[0]
    return Finding(
        kind=kind,
        fault=True,
        place=take.place_at(float(first.place)),
        time_s=take.time_s(first.sounded),
        certainty=_SURE,
        amount=None if share is None else round(100 * share, 1),
        unit=None if share is None else Unit.PERCENT,
    )


def _no_rest(take: JudgedTake, phrases: Sequence[Phrase]) -> Iterator[Finding]:
    """A take in which hardly anything is left out."""
    share = sum(map(_sounding, phrases)) / _sounding(take.notes)
    if share > FULL_SHARE:
        yield _of_whole(take, FindingKind.NO_REST, share)


def _few_rhythms(take: JudgedTake) -> Iterator[Finding]:
    """One distance from note to note through nearly all of the take."""
    gaps = Counter(after.place - note.place for note, after in pairwise(take.notes))
    share = max(gaps.values()) / gaps.total()
    if share > ONE_RHYTHM[take.level]:
        yield _of_whole(take, FindingKind.FEW_RHYTHMS, share)


def _narrow_range(take: JudgedTake) -> Iterator[Finding]:
    midis = sorted(note.midi for note in take.notes)
    tail = int(_TAIL * len(midis))
    if midis[-1 - tail] - midis[tail] < NARROWEST[take.level]:
        yield _of_whole(take, FindingKind.NARROW_RANGE)


def _repeated_figure(take: JudgedTake) -> Iterator[Finding]:
    """One figure, moved or not, that makes most of the take; told where it stands first."""
    figures = figures_of(take.notes, FIGURE_NOTES)
    counts = Counter(figure for figure in figures if not is_run(figure))
    if not counts:
        return
    figure, _ = counts.most_common(1)[0]
    places = [place for place, other in enumerate(figures) if other == figure]
    covered = {note for place in places for note in range(place, place + FIGURE_NOTES)}
    share = len(covered) / len(take.notes)
    if share > ONE_FIGURE[take.level]:
        yield _of_whole(take, FindingKind.REPEATED_FIGURE, share, take.notes[places[0] :])
