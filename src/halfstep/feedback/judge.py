"""The whole of a take judged: each finder is one function in one list."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import partial

from halfstep.feedback.chart_fit import fits_chart
from halfstep.feedback.craft import craft_findings
from halfstep.feedback.doubts import Doubt
from halfstep.feedback.findings import Finding, FindingKind
from halfstep.feedback.form_slips import take_out_slips
from halfstep.feedback.heard_changes import HeardChange, change_findings, heard_changes
from halfstep.feedback.intonation import tuning_findings
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.laid_take import LaidTake, laid_take
from halfstep.feedback.line_findings import line_findings
from halfstep.feedback.line_fit import fits_line
from halfstep.feedback.meant_pitch import read_right
from halfstep.feedback.note_roles import RoledNote, note_roles
from halfstep.feedback.old_notes import old_note_findings
from halfstep.feedback.phrasing import phrasing_findings
from halfstep.feedback.restarts import restart_findings
from halfstep.feedback.timing_findings import timing_findings
from halfstep.feedback.written_line import read_by_line
from halfstep.harmony.chord_arrivals import ChangeVerdict
from halfstep.harmony.outline import Outline, outline_of

Finder = Callable[[JudgedTake], Iterable[Finding]]
LaidFinder = Callable[[LaidTake], Iterable[Finding]]

FINDERS: tuple[Finder, ...] = (phrasing_findings, timing_findings)
"""All that look for something in a take that is read right."""

LAID_FINDERS: tuple[LaidFinder, ...] = (
    line_findings,
    tuning_findings,
    change_findings,
    old_note_findings,
    restart_findings,
    craft_findings,
)
"""All that look for something in a take as it is laid over its chords, or name its notes."""


@dataclass(frozen=True, slots=True)
class Feedback:
    """What there is to say of a take.

    Attributes
    ----------
    take : JudgedTake
        As it was judged: a wrong transposition read right, slips of the form taken out.
    findings : tuple of Finding
        In order of time.
    changes : tuple of HeardChange
        Every change of every pass.
    notes : tuple of RoledNote
        Every note with its chord, its degree and its role, in order.
    outline : Outline or None
        How clearly the notes tell the chords apart; None without a note from bar 1 on.
    is_judged : bool
        False where something stands against judging any of it.
    """

    take: JudgedTake
    findings: tuple[Finding, ...]
    changes: tuple[HeardChange, ...]
    notes: tuple[RoledNote, ...]
    outline: Outline | None
    is_judged: bool = True


HARD_TO_HEAR = 0.9
"""How much surer all would be of a take that clips, is damaged, or has a backing as loud as the
player."""
OTHER_CHORDS = "what is played fits these chords no better in its place than elsewhere"
LEAST_CERTAINTY = 0.6
"""What is less certain is told to nobody."""


def judge(take: JudgedTake, *, least_certainty: float = LEAST_CERTAINTY) -> Feedback:
    """Everything that can be said of a take, in order of time.

    Parameters
    ----------
    take : JudgedTake
    least_certainty : float
        Of what is told.
    """
    doubts = (*take.doubts, *_doubts_of_length(take))
    findings_told = [_not_judged(take, doubt) for doubt in doubts]
    if any(doubt.is_total for doubt in doubts):
        return _unjudged(take, findings_told)
    as_played = take
    take, of_pitch = read_right(take)
    take, of_line = _by_its_line(take)
    take, of_place = take_out_slips(take)
    if not take.line and not fits_chart(as_played, take):
        findings_told.append(_not_judged(take, Doubt(OTHER_CHORDS)))
        return _unjudged(take, findings_told)
    taken = laid_take(take)
    findings = [*of_pitch, *of_place, *_unspoilt(tuple(_findings(taken)))]
    if any(doubt.covers for doubt in take.doubts):
        findings = [f for f in findings if f.kind is not FindingKind.MISSED]
    if any(doubt.lessens for doubt in take.doubts):
        findings = [replace(f, certainty=HARD_TO_HEAR * f.certainty) for f in findings]
    findings_told += map(partial(_not_judged, take), of_line)
    findings_told += (finding for finding in findings if finding.certainty >= least_certainty)
    return _feedback(taken, findings_told, heard_changes)


def _unjudged(take: JudgedTake, findings: Iterable[Finding]) -> Feedback:
    """A take of which nothing is judged, with the reasons."""
    return replace(_feedback(laid_take(take), findings, _unjudged_changes), is_judged=False)


def _feedback(
    taken: LaidTake,
    findings: Iterable[Finding],
    changes: Callable[[LaidTake], Iterable[HeardChange]],
) -> Feedback:
    in_time = sorted(findings, key=lambda finding: finding.time_s)
    laid = taken.laid
    figures = outline_of(laid, taken.take.chart, taken.arrivals) if laid.line else None
    changes_heard = tuple(changes(taken))
    return Feedback(taken.take, tuple(in_time), changes_heard, note_roles(taken), figures)


def _findings(taken: LaidTake) -> Iterator[Finding]:
    for finder in FINDERS:
        yield from finder(taken.take)
    for laid_finder in LAID_FINDERS:
        yield from laid_finder(taken)


_CRAFT = {
    FindingKind.APPROACH,
    FindingKind.ENCLOSURE,
    FindingKind.ANTICIPATION,
    FindingKind.BLUE_NOTE,
}
_OTHER_NOTES = {FindingKind.ADDED, FindingKind.CHANGED}


def _unspoilt(findings: Sequence[Finding]) -> Iterator[Finding]:
    """The findings without craft in notes that the written line does not have."""
    other_s = {finding.time_s for finding in findings if finding.kind in _OTHER_NOTES}
    for finding in findings:
        if finding.kind not in _CRAFT or finding.time_s not in other_s:
            yield finding


def _by_its_line(take: JudgedTake) -> tuple[JudgedTake, tuple[Doubt, ...]]:
    """The take read by its line; as an improvised one, with the reason, where it is another."""
    read = read_by_line(take)
    if fits_line(read):
        return read, ()
    reason = "fewer than half of the notes are those of the written line: judged without it"
    return replace(take, line=(), ending=()), (Doubt(reason, is_total=False),)


def _doubts_of_length(take: JudgedTake) -> Iterator[Doubt]:
    """What stands against judging a take by how much of it there is."""
    if any(doubt.is_total for doubt in take.doubts):
        return
    notes = [note for note in take.notes if note.onset + note.beats > 0]
    if not notes:
        yield Doubt("no note is heard from bar 1 on")
    elif notes[-1].onset + notes[-1].beats - notes[0].onset < take.chart.form[0].beats:
        yield Doubt("what is played is shorter than a bar")


def _not_judged(take: JudgedTake, doubt: Doubt) -> Finding:
    """Something that is not judged, told at the beginning."""
    return Finding(
        kind=FindingKind.NOT_JUDGED,
        fault=False,
        place=take.place_at(0.0),
        time_s=max(0.0, take.time_s(0.0)),
        certainty=1.0,
        reason=doubt.reason,
    )


def _unjudged_changes(taken: LaidTake) -> Iterator[HeardChange]:
    """The changes of a take that is not judged: that nothing differs is a fact of the chart."""
    for change in heard_changes(taken):
        if change.verdict is ChangeVerdict.NOTHING_DIFFERS:
            yield change
        else:
            unjudged = ChangeVerdict.NOT_JUDGED
            yield replace(change, verdict=unjudged, beats_late=0.0, reason="the take is not judged")
