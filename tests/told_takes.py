"""Feedback on a take of eight bars, twice through, with findings put into it by hand."""

from __future__ import annotations

from dataclasses import replace
from itertools import count

from feedback.played_takes import line_of, played, take_of
from halfstep.feedback.findings import Finding, FindingKind, PassPlace, Unit
from halfstep.feedback.judge import Feedback, judge
from halfstep.feedback.judged_take import JudgedTake
from halfstep.pitch import parse_pitch

WITH_NOTES = {
    FindingKind.OLD_NOTE_KEPT, FindingKind.CHANGED, FindingKind.ADDED, FindingKind.MISSED,
    FindingKind.LATE_NOTE, FindingKind.SHARP, FindingKind.FLAT, FindingKind.BLUE_NOTE,
}  # fmt: skip
WITH_INSTEAD = {FindingKind.OLD_NOTE_KEPT, FindingKind.CHANGED}
CRAFT = {
    FindingKind.APPROACH, FindingKind.ENCLOSURE, FindingKind.ANTICIPATION, FindingKind.OCTAVE,
    FindingKind.NOT_JUDGED,
}  # fmt: skip
FAULTS = tuple(kind for kind in FindingKind if kind not in CRAFT)


def a_take(
    instrument: str = "alto-sax",
    chart: str = "evening class",
    step: str = "chorus",
    *,
    passes: int = 2,
    with_line: bool = False,
) -> JudgedTake:
    """A step as it is written, played by an invented student."""
    analysis, line = line_of(step, chart, instrument=instrument)
    tones = played(analysis, line, passes=passes)
    return take_of(tones, analysis, instrument=instrument, line=line if with_line else ())


def told(*findings: Finding, take: JudgedTake | None = None) -> Feedback:
    """Feedback with these findings and no other."""
    feedback = judge(take or a_take())
    return replace(feedback, findings=findings)


def a_finding(kind: FindingKind, bar: int = 3, chorus: int = 1, **fields: object) -> Finding:
    """A finding of a kind with all that goes with it."""
    made = Finding(
        kind=kind,
        fault=kind not in CRAFT,
        place=PassPlace(chorus, bar, 1.0),
        time_s=2.0 * bar,
        certainty=0.95,
        note=parse_pitch("Eb4") if kind in WITH_NOTES else None,
        instead=parse_pitch("D4") if kind in WITH_INSTEAD else None,
        chord="B7",
        beats_late=2.0 if kind is FindingKind.CHANGE_HEARD else None,
        bars=2 if kind in {FindingKind.FORM_SLIP, FindingKind.LONG_PHRASE} else None,
        amount=12.0 if kind in {FindingKind.OFFSET, FindingKind.RUSHING} else None,
        unit=Unit.MS if kind is FindingKind.OFFSET else None,
        reason="the take is too loud" if kind is FindingKind.NOT_JUDGED else "",
    )
    return replace(made, **fields)


def every_finding() -> tuple[Finding, ...]:
    """One of every kind, each in a bar of its own as far as there are bars."""
    bars = count()
    return tuple(a_finding(kind, bar=next(bars) % 8 + 1) for kind in FindingKind)
