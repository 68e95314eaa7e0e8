"""What is said of a take, as data; described in ``docs/feedback.schema.json``."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from halfstep.data.documents import JsonForm
from halfstep.errors import worded
from halfstep.feedback.findings import Finding, PassPlace
from halfstep.feedback.heard_changes import HeardChange
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.chord_arrivals import HEARD, ChangeVerdict
from halfstep.part.take_part import WrittenTake
from halfstep.progression.bars_data import played_chart_data

FEEDBACK_FORM = JsonForm("halfstep-feedback", "what is said of a take")


def feedback_data(
    feedback: Feedback, written: WrittenTake, notices: Sequence[str]
) -> dict[str, Any]:
    """All that is said of a take; what does not apply is left out of a finding."""
    take = feedback.take
    return {
        **FEEDBACK_FORM.head,
        "title": written.title,
        "chart_title": take.chart.title,
        "instrument": take.part.instrument.key,
        "level": str(take.level),
        "feel": str(take.feel),
        "quarters_a_minute": round(60 / take.clock.quarter_s, 3),
        "form_s": round(take.clock.form_s, 4),
        "length_s": round(written.take.length_s, 4),
        "chart": played_chart_data(take.chart),
        "notices": [worded(notice, str) for notice in notices],
        "summary": _summary(feedback),
        "findings": [_finding(finding) for finding in feedback.findings],
        "changes": [_change(change, take) for change in feedback.changes],
        "notes": [_note(note, take) for note in take.notes],
    }


def _place(place: PassPlace) -> dict[str, Any]:
    return {"pass": place.chorus, "bar": place.bar, "beat": round(place.beat, 3)}


def _finding(finding: Finding) -> dict[str, Any]:
    return {
        "kind": str(finding.kind),
        "fault": finding.fault,
        **_place(finding.place),
        "time_s": round(finding.time_s, 4),
        "certainty": round(finding.certainty, 3),
        **_applicable(
            note=finding.note and finding.note.ascii,
            instead=finding.instead and finding.instead.ascii,
            chord=finding.chord or None,
            beats_late=_rounded(finding.beats_late),
            bars=finding.bars,
            until=finding.until and _place(finding.until),
            amount=_rounded(finding.amount),
            unit=finding.unit and str(finding.unit),
            interval=finding.interval and [round(figure, 3) for figure in finding.interval],
            etude_note=finding.etude_note,
            reason=worded(finding.reason, str) or None,
        ),
    }


def _applicable(**fields: Any) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value is not None}


def _rounded(figure: float | None) -> float | None:
    return None if figure is None else round(figure, 3)


def _change(change: HeardChange, take: JudgedTake) -> dict[str, Any]:
    is_heard = change.verdict in HEARD
    return {
        **_place(change.place),
        "chord": take.part.symbol(change.chord).ascii,
        "heard": str(change.verdict),
        "certainty": round(change.certainty, 3),
        **_applicable(
            beats_late=round(change.beats_late, 3) if is_heard else None,
            reason=change.reason or None,
        ),
    }


def _note(note: TakeNote, take: JudgedTake) -> dict[str, Any]:
    chord = take.chord_at(float(note.place))
    return {
        **_place(take.place_at(float(note.place))),
        "onset_s": None if note.sound is None else round(note.sound.onset_s, 4),
        "offset_s": None if note.sound is None else round(note.sound.offset_s, 4),
        "onset": round(note.onset, 4),
        "beats": round(note.beats, 4),
        "midi": note.midi,
        "chord": take.part.symbol(chord).ascii,
        "certainty": round(note.certainty, 3),
    }


def _summary(feedback: Feedback) -> dict[str, Any]:
    counts = {str(verdict): 0 for verdict in ChangeVerdict}
    for change in feedback.changes:
        counts[str(change.verdict)] += 1
    return {"notes": len(feedback.take.notes), "changes": counts}
