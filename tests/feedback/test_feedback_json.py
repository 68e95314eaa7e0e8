"""Feedback as data: as its schema says, and back again."""

from __future__ import annotations

import json
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from halfstep.data.documents import json_text
from halfstep.data.feedback_json import feedback_data, read_feedback
from halfstep.errors import ReadError
from halfstep.feedback.doubts import Doubt
from halfstep.feedback.findings import FindingKind, PassPlace
from halfstep.feedback.judge import judge
from halfstep.feedback.take_clock import TakeClock
from halfstep.harmony.chord_arrivals import ChangeVerdict
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.outline import outline
from made_feedback import ARPEGGIOS, FULL, heard_take, judged_take, made_feedback, written_take

SCHEMA = json.loads(
    (Path(__file__).resolve().parents[2] / "docs" / "feedback.schema.json").read_text("utf-8")
)


def data_of(midis: tuple[int, ...] = ARPEGGIOS, **options: Any) -> dict[str, Any]:
    heard = heard_take(midis)
    return feedback_data(judge(judged_take(heard, **options)), written_take(heard), [])


def faults(data: dict[str, Any]) -> list[str]:
    jsonschema = pytest.importorskip("jsonschema")
    jsonschema.Draft202012Validator.check_schema(SCHEMA)
    validator = jsonschema.Draft202012Validator(SCHEMA)
    return ["/".join(map(str, fault.absolute_path)) for fault in validator.iter_errors(data)]


def fields(schema: Any, name: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    """Every part of a schema that describes a value."""
    if isinstance(schema, list):
        for inner in schema:
            yield from fields(inner)
    elif isinstance(schema, dict):
        for key, inner in schema.get("properties", {}).items():
            yield f"{name}/{key}", inner
            yield from fields(inner, f"{name}/{key}")
        for key in ("items", "anyOf"):
            yield from fields(schema.get(key, []), name)
        for key, inner in schema.get("$defs", {}).items():
            yield from fields(inner, key)


def test_every_field_is_described() -> None:
    named = list(fields(SCHEMA))
    assert len(named) > 80
    bare = [name for name, field in named if not ("$ref" in field or field.get("description"))]
    assert bare == []


@pytest.mark.slow
def test_what_is_written_is_as_the_schema_says() -> None:
    feedback, written = made_feedback()
    assert faults(feedback_data(feedback, written, ["tempo 120"])) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "data",
    [
        lambda: data_of(()),
        lambda: data_of(ARPEGGIOS[:3]),
        lambda: data_of(chart="| C7 | N.C. | F7 | % |"),
        lambda: data_of(chart="meter: 6/8\n| Cm | Cm | Fm | Fm |", instrument="trombone"),
        lambda: data_of(doubts=(Doubt("two voices"),)),
    ],
    ids=["no note", "less than a bar", "silence", "six eight", "not judged"],
)
def test_odd_takes_are_as_the_schema_says_too(data: Any) -> None:
    assert faults(data()) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    ("place", "value"),
    [
        (("findings", 0, "kind"), "wrong"),
        (("findings", 0, "certainty"), 1.5),
        (("changes", 0, "heard"), "soon"),
        (("notes", 0, "bar"), 0),
        (("shoe_size",), 42),
    ],
)
def test_another_value_is_a_fault(place: tuple[Any, ...], value: object) -> None:
    data = data_of()
    *way, last = place
    node: Any = data
    for name in way:
        node = node[name]
    node[last] = value
    assert len(faults(data)) == 1


def test_a_finding_has_the_fields_that_apply_to_it_alone() -> None:
    feedback, written = made_feedback()
    *others, full = feedback_data(feedback, written, [])["findings"]
    assert full == {
        "kind": "sharp", "fault": True, "pass": 2, "bar": 3, "beat": 1.5, "time_s": 9.25,
        "certainty": 0.75, "note": "Eb4", "instead": "D4", "chord": "Bb7", "beats_late": -0.5,
        "bars": 2, "until": {"pass": 2, "bar": 4, "beat": 3}, "amount": 12.5, "unit": "cents",
        "interval": [8.0, 17.0], "etude_note": 4, "reason": "give start_s",
    }  # fmt: skip
    heard = next(finding for finding in others if finding["kind"] == "change-heard")
    assert list(heard) == [
        "kind", "fault", "pass", "bar", "beat", "time_s", "certainty", "chord", "beats_late",
    ]  # fmt: skip


def test_it_is_read_back() -> None:
    feedback, written = made_feedback()
    stored = read_feedback(json_text(feedback_data(feedback, written, [])))
    assert (stored.title, stored.instrument) == ("Made up", "alto-sax")
    assert stored.findings[-1] == replace(FULL, chord="Bb7", reason="give start_s")
    assert len(stored.findings) == len(feedback.findings)
    assert [change.verdict for change in stored.changes] == [
        change.verdict for change in feedback.changes
    ]
    assert [change.place for change in stored.changes] == [
        change.place for change in feedback.changes
    ]


@pytest.mark.parametrize("field", ["title", "findings", "changes"])
def test_with_a_field_missing_it_is_refused(field: str) -> None:
    data = data_of()
    del data[field]
    with pytest.raises(ReadError, match="not as Halfstep writes it"):
        read_feedback(json_text(data))


def test_notes_stand_where_they_were_played_in_the_players_names() -> None:
    """An alto saxophone reads a sixth higher: concert D is B."""
    notes = data_of()["notes"]
    assert [(note["bar"], note["beat"]) for note in notes] == [
        (bar, beat) for bar in (1, 2, 3, 4) for beat in (1, 2, 3, 4)
    ]
    assert [note["note"] for note in notes[:4]] == ["B4", "D5", "F#5", "A5"]
    assert [note["chord"] for note in notes[::4]] == ["Bm7", "E7", "C#m7b5", "F#7b9"]


def test_the_summary_has_shares_and_the_figure_of_outline() -> None:
    summary = data_of()["summary"]
    figures = outline(
        [LineNote(n, 0.9, midi) for n, midi in enumerate(ARPEGGIOS)],
        judged_take(heard_take()).chart,
    ).whole
    assert summary["outline"]["relative"] == pytest.approx(figures.relative, abs=1e-4)
    assert (summary["notes"], summary["passes"]) == (16, 1)
    assert sum(summary["shares"].values()) == pytest.approx(1)
    assert sum(summary["changes"].values()) == len(data_of()["changes"])


@pytest.mark.slow
@pytest.mark.parametrize("stated_rate", [44_100, 48_000])
def test_all_seconds_are_those_of_the_file(stated_rate: int) -> None:
    """A second heard at a true 44.1 kHz lies at so many of the file's as it states."""
    ratio = 44_100 / stated_rate
    heard = replace(heard_take(), rate_ratio=ratio, delay_s=0.25)
    take = judged_take(heard, clock=TakeClock(0.5, 2.0, True, rate_ratio=ratio))
    data = feedback_data(judge(take), written_take(heard), [])
    true = feedback_data(judge(judged_take(heard_take())), written_take(heard_take()), [])
    assert faults(data) == []
    assert data["rate_ratio"] == pytest.approx(ratio, abs=1e-6)
    assert data["delay_s"] == pytest.approx(0.25 * ratio, abs=1e-4)
    for name in ("form_s", "length_s"):
        assert data[name] == pytest.approx(true[name] * ratio, abs=1e-3), name
    for part, name in (("findings", "time_s"), ("notes", "onset_s"), ("notes", "offset_s")):
        assert [row[name] for row in data[part]] == pytest.approx(
            [row[name] * ratio for row in true[part]], abs=1e-3
        )
    assert [row["onset"] for row in data["notes"]] == [row["onset"] for row in true["notes"]]


# --- what is not judged ------------------------------------------------------------------


@pytest.mark.parametrize(
    ("midis", "reason"),
    [((), "no note is heard from bar 1 on"), (ARPEGGIOS[:3], "shorter than a bar")],
)
def test_too_little_is_told_once_and_nothing_else(midis: tuple[int, ...], reason: str) -> None:
    feedback = judge(judged_take(heard_take(midis)))
    (finding,) = feedback.findings
    assert (finding.kind, finding.fault, finding.place) == (
        FindingKind.NOT_JUDGED, False, PassPlace(1, 1, 1.0),
    )  # fmt: skip
    assert reason in finding.reason
    verdicts = {change.verdict for change in feedback.changes}
    assert verdicts <= {ChangeVerdict.NOT_JUDGED, ChangeVerdict.NOTHING_DIFFERS}


def test_a_doubt_about_all_silences_the_rest_and_another_stands_beside_it() -> None:
    take = judged_take(heard_take())
    rest = judge(take).findings
    assert rest
    total = judge(replace(take, doubts=(Doubt("two voices"),)))
    assert [finding.reason for finding in total.findings] == ["two voices"]
    partial = judge(replace(take, doubts=(Doubt("clipped", is_total=False),)))
    assert {finding.reason for finding in partial.findings} == {"clipped", ""}
    assert len(partial.findings) == len(rest) + 1


def test_what_is_hardly_certain_is_told_to_nobody() -> None:
    take = judged_take(heard_take())
    least = max(finding.certainty for finding in judge(take).findings)
    assert judge(take, least_certainty=least).findings
    assert not judge(take, least_certainty=least + 0.001).findings
