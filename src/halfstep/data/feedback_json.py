"""What is said of a take, as data: described in ``docs/feedback.schema.json``.

Names are those that the player reads, in ASCII. What does not apply to a finding is left out.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from halfstep.data.documents import JsonForm, read_document
from halfstep.data.evidence_json import evidence_data, read_evidence
from halfstep.data.told_json import told_data
from halfstep.errors import HalfstepError, ReadError, worded
from halfstep.feedback.findings import Finding, FindingKind, PassPlace, Unit
from halfstep.feedback.heard_changes import HeardChange
from halfstep.feedback.judge import Feedback
from halfstep.feedback.judged_take import JudgedTake
from halfstep.feedback.next_things import NextThing
from halfstep.feedback.note_roles import RoledNote
from halfstep.feedback.strengths import Strength, strength
from halfstep.feedback.take_figures import ShareRight, TakeFigures, take_figures
from halfstep.feedback.take_note import TakeNote
from halfstep.harmony.chord_arrivals import HEARD, JUDGED, ChangeVerdict
from halfstep.harmony.line_figures import Figures
from halfstep.part.take_part import WrittenTake
from halfstep.pitch import parse_pitch
from halfstep.practice.evidence import Evidence
from halfstep.progression.bars_data import played_chart_data
from halfstep.progression.symbol import parse_symbol

FEEDBACK_FORM = JsonForm("halfstep-feedback", "feedback on a take")
COUNTED_VERDICTS = tuple(verdict for verdict in ChangeVerdict if verdict in JUDGED)
"""Those whose shares add up to 1."""
TYPICAL_OUTLINES = {"plain-arpeggio": 1.0, "scale-from-root": [0.13, 0.64], "players-solos": 0.3}
"""What others reach: measured on six charts of 8 to 12 bars and on players' solos."""


@dataclass(frozen=True, slots=True)
class StoredNext:
    """A thing to do next, and the etude that is written for it.

    Attributes
    ----------
    thing : NextThing
    bars : tuple of int
        Of the form, that it is written over.
    step : str
    tempo_bpm : float
        Pulses a minute.
    etude : dict
        The etude as it is stored, to be opened again.
    files : tuple of str
        Its sheet and its sound, where they are written.
    """

    thing: NextThing
    bars: tuple[int, ...]
    step: str
    tempo_bpm: float
    etude: dict[str, Any]
    files: tuple[str, ...] = ()


def feedback_data(
    feedback: Feedback,
    written: WrittenTake,
    notices: Sequence[str],
    nexts: Sequence[StoredNext] = (),
    words: Sequence[str] = (),
    evidence: Evidence | None = None,
) -> dict[str, Any]:
    """All that is said of a take; what is not known is null.

    Parameters
    ----------
    feedback : Feedback
    written : WrittenTake
    notices : sequence of str
    nexts : sequence of StoredNext
        What to do next.
    words : sequence of str
        The teacher's own, a paragraph each.
    evidence : Evidence, optional
        What the take shows of the program's course.
    """
    take, heard = feedback.take, written.take
    best = strength(feedback)
    return {
        **FEEDBACK_FORM.head,
        "title": written.title,
        "chart_title": take.chart.title,
        "instrument": take.part.instrument.key,
        "level": str(take.level),
        "feel": str(take.feel),
        "quarters_a_minute": round(60 / take.clock.quarter_s, 3),
        "rate_ratio": round(heard.rate_ratio, 6),
        "form_s": round(take.time_s(0.0), 4),
        "length_s": round(heard.file_s(heard.length_s), 4),
        "tuning_cents": round(heard.tuning_cents, 1),
        "delay_s": None if heard.delay_s is None else round(heard.file_s(heard.delay_s), 4),
        "chart": played_chart_data(take.chart),
        "notices": [worded(notice, str) for notice in notices],
        "summary": _summary(feedback),
        "strength": None if best is None else _strength(best, take),
        "next": [_next(item, take) for item in nexts],
        "told": told_data(feedback, best, [item.thing for item in nexts]),
        "words": list(words),
        "findings": [_finding(finding) for finding in feedback.findings],
        "changes": [_change(change, take) for change in feedback.changes],
        "notes": [_note(note, take) for note in feedback.notes],
        "evidence": None if evidence is None else evidence_data(evidence),
    }


def _place(place: PassPlace) -> dict[str, Any]:
    return {"pass": place.chorus, "bar": place.bar, "beat": _number(place.beat)}


def _number(figure: float) -> float:
    """A figure with three digits, whole where it is."""
    rounded = round(figure, 3)
    return int(rounded) if rounded == int(rounded) else rounded


def _rounded(figure: float | None, digits: int = 3) -> float | None:
    return None if figure is None else round(figure, digits)


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
            chord=parse_symbol(finding.chord).ascii if finding.chord else None,
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


def _strength(best: Strength, take: JudgedTake) -> dict[str, Any]:
    return {
        "kind": str(best.kind),
        **_place(best.place),
        "until": _place(best.until),
        "count": best.count,
        "chord": take.part.symbol(best.chord).ascii,
    }


def _next(item: StoredNext, take: JudgedTake) -> dict[str, Any]:
    return {
        "kind": str(item.thing.kind),
        "bar": item.thing.bar,
        "chord": take.part.symbol(item.thing.chord).ascii,
        "findings": len(item.thing.findings),
        "bars": list(item.bars),
        "step": item.step,
        "tempo_bpm": _number(item.tempo_bpm),
        "files": list(item.files),
        "etude": item.etude,
    }


def _applicable(**fields: Any) -> dict[str, Any]:
    return {name: value for name, value in fields.items() if value is not None}


def _change(change: HeardChange, take: JudgedTake) -> dict[str, Any]:
    return {
        **_place(change.place),
        "start": _number(change.onset),
        "time_s": round(max(0.0, take.time_s(change.onset)), 4),
        "chord_number": change.chord,
        "chord": take.part.symbol(change.chord).ascii,
        "heard": str(change.verdict),
        "certainty": round(change.certainty, 3),
        **_applicable(
            beats_late=round(change.beats_late, 3) if change.verdict in HEARD else None,
            reason=change.reason or None,
        ),
    }


def _note(roled: RoledNote, take: JudgedTake) -> dict[str, Any]:
    note, sound = roled.note, roled.note.sound
    return {
        **_place(take.place_at(float(note.place))),
        "onset_s": round(take.time_s(note.sounded), 4),
        "offset_s": round(take.time_s(note.sounded + note.beats), 4),
        "onset": round(note.sounded, 4),
        "beats": round(note.beats, 4),
        "midi": note.midi,
        "cents": round(sound.cents if sound else 0.0, 1),
        "note": roled.pitch.ascii,
        "chord": None if roled.chord is None else take.part.symbol(roled.chord).ascii,
        "degree": roled.degree and roled.degree.ascii,
        "role": str(roled.role),
        "certainty": round(note.certainty, 3),
    }


# The take in figures


def _summary(feedback: Feedback) -> dict[str, Any]:
    counts = dict.fromkeys(ChangeVerdict, 0)
    for change in feedback.changes:
        counts[change.verdict] += 1
    judged = sum(counts[verdict] for verdict in COUNTED_VERDICTS)
    take, figures = feedback.take, feedback.outline
    return {
        "notes": len(take.notes),
        "passes": _passes(take),
        "changes": {str(verdict): count for verdict, count in counts.items()},
        "shares": {
            str(verdict): round(counts[verdict] / judged, 4) if judged else None
            for verdict in COUNTED_VERDICTS
        },
        "outline": _figures(figures.whole, take) if figures else None,
        "windows": [_figures(w, take) for w in figures.windows] if figures else [],
        "typical": TYPICAL_OUTLINES,
        "figures": _take_figures(take_figures(feedback)),
    }


def _take_figures(figures: TakeFigures) -> dict[str, Any]:
    return {
        "judged": figures.is_judged,
        "choruses": figures.choruses,
        "certainty": figures.certainty,
        **{name: _share(getattr(figures, name)) for name in _SHARES},
    }


_SHARES = ("line", "echo", "motif")


def _share(share: ShareRight | None) -> dict[str, Any] | None:
    if share is None:
        return None
    return {"right": share.right, "of": share.of, "certainty": share.certainty}


def _passes(take: JudgedTake) -> int:
    """How many passes are played in."""
    return len({chorus for note in take.notes if (chorus := _pass_of(note, take)) >= 1})


def _pass_of(note: TakeNote, take: JudgedTake) -> int:
    return take.place_at(float(note.place)).chorus


def _figures(figures: Figures, take: JudgedTake) -> dict[str, Any]:
    return {
        "first": _bar(figures.first_bar, take),
        "last": _bar(figures.last_bar, take),
        "notes": figures.notes,
        "outline": _rounded(figures.outline, 4),
        "reference": _rounded(figures.reference, 4),
        "relative": _rounded(figures.relative, 4),
        "reason": figures.reason or None,
    }


def _bar(number: int, take: JudgedTake) -> dict[str, Any]:
    """A bar that is counted on through all passes."""
    chorus, bar = divmod(number - 1, len(take.form.bar_starts))
    return {"pass": chorus + 1, "bar": bar + 1}


# Read back


@dataclass(frozen=True, slots=True)
class StoredFeedback:
    """What was said of a take, as it was stored.

    Attributes
    ----------
    title, instrument : str
    findings : tuple of Finding
    changes : tuple of HeardChange
    figures : TakeFigures or None
        None in a file that was written before there were any.
    evidence : Evidence or None
        What the take shows of the program's course; None for nothing.
    """

    title: str
    instrument: str
    findings: tuple[Finding, ...]
    changes: tuple[HeardChange, ...]
    figures: TakeFigures | None = None
    evidence: Evidence | None = None


def read_feedback(source: str | Path) -> StoredFeedback:
    """The feedback in a text or a file of it.

    Raises
    ------
    ReadError
        When it is no such document, or not as it was written.
    """
    data = read_document(source, FEEDBACK_FORM)
    try:
        return StoredFeedback(
            str(data["title"]),
            str(data["instrument"]),
            tuple(map(_read_finding, data["findings"])),
            tuple(map(_read_change, data["changes"])),
            _read_figures(data["summary"].get("figures")),
            read_evidence(data["evidence"]) if data.get("evidence") else None,
        )
    except (KeyError, TypeError, ValueError, AttributeError, HalfstepError):
        raise ReadError("the feedback is not as Halfstep writes it") from None


def next_etudes(text: str) -> tuple[str, ...]:
    """The etudes of the things to do next in stored feedback, each as it is stored by itself."""
    items = json.loads(text or "{}").get("next", ())
    return tuple(json.dumps(item["etude"]) for item in items if "etude" in item)


def _read_figures(data: dict[str, Any] | None) -> TakeFigures | None:
    if data is None:
        return None
    shares = {name: _read_share(data[name]) for name in _SHARES}
    judged, choruses = data["judged"] is True, float(data["choruses"])
    return TakeFigures(judged, choruses, float(data["certainty"]), **shares)


def _read_share(data: dict[str, Any] | None) -> ShareRight | None:
    if data is None:
        return None
    return ShareRight(int(data["right"]), int(data["of"]), float(data["certainty"]))


def _read_finding(data: dict[str, Any]) -> Finding:
    return Finding(
        kind=FindingKind(data["kind"]),
        fault=data["fault"] is True,
        place=_read_place(data),
        time_s=float(data["time_s"]),
        certainty=float(data["certainty"]),
        **dict(_read_applicable(data)),
    )


def _read_applicable(data: dict[str, Any]) -> Iterator[tuple[str, Any]]:
    """The fields of a finding that do not apply to all."""
    for name, read in _READERS.items():
        if name in data:
            yield name, read(data[name])


def _read_place(data: dict[str, Any]) -> PassPlace:
    return PassPlace(int(data["pass"]), int(data["bar"]), float(data["beat"]))


def _read_interval(data: Sequence[float]) -> tuple[float, float]:
    low, high = map(float, data)
    return low, high


_READERS: dict[str, Callable[[Any], Any]] = {
    "note": parse_pitch, "instead": parse_pitch, "chord": str, "beats_late": float, "bars": int,
    "until": _read_place, "amount": float, "unit": Unit, "interval": _read_interval,
    "etude_note": int, "reason": str,
}  # fmt: skip


def _read_change(data: dict[str, Any]) -> HeardChange:
    return HeardChange(
        _read_place(data),
        float(data["start"]),
        int(data["chord_number"]),
        ChangeVerdict(data["heard"]),
        float(data.get("beats_late", 0.0)),
        float(data["certainty"]),
        str(data.get("reason", "")),
    )
