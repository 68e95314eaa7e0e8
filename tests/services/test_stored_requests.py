"""Requests go to JSON and back, and what is not one is told in a line."""

from __future__ import annotations

import json
from dataclasses import fields, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.data.chart_json import chart_data, read_chart_data
from halfstep.data.documents import json_text
from halfstep.data.take_json import read_take, take_data
from halfstep.errors import ReadError
from halfstep.etude.line_edit import EditAction, LineEdit, LineRewriting
from halfstep.instruments import INSTRUMENTS
from halfstep.listen.heard_take import HeardNote, HeardTake
from halfstep.listen.take_notice import TakeNotice, Trouble
from halfstep.part.take_part import WrittenTake
from halfstep.practice.evidence import Evidence, Skill, Verdict
from halfstep.practice.practice_plan import ItemRole, Manner, PlanItem, PracticePlan, Rest
from halfstep.services.edit_line import EditLine
from halfstep.services.explain_chart import ExplainChart
from halfstep.services.give_feedback import GiveFeedback
from halfstep.services.hear_take import HearTake
from halfstep.services.line_versions import LineVersions
from halfstep.services.make_film import MakeFilm
from halfstep.services.make_lesson import MakeLesson
from halfstep.services.make_plan import MakePlan
from halfstep.services.read_chart import ReadChart, read_chart
from halfstep.services.stored_requests import REQUESTS, read_request, request_text
from halfstep.services.write_etude import WriteEtude, write_one_etude
from strategies import sheets

words = st.one_of(st.none(), st.text(max_size=12))
files = st.builds(Path, st.text(st.characters(codec="utf-8", exclude_characters="\0"), min_size=1))
charts = st.one_of(st.text(max_size=40), files, sheets(max_bars=2))
numbers = st.one_of(st.none(), st.floats(40, 300))

evidence = st.builds(
    Evidence, st.text(max_size=9),
    st.datetimes(datetime(1990, 1, 1), datetime(2090, 1, 1), timezones=st.just(UTC)),
    st.builds(Skill, st.text(max_size=9), st.text(max_size=9), st.integers(-5, 6)),
    st.floats(40, 300), st.sampled_from(Verdict), st.floats(0, 1), st.floats(0, 60),
    st.text(max_size=9), st.one_of(st.none(), st.integers(1, 32)),
    st.one_of(st.none(), st.integers(0, 3)),
)  # fmt: skip
plans = st.builds(
    PracticePlan, st.dates(), st.floats(10, 180),
    st.lists(
        st.builds(
            PlanItem, st.sampled_from(ItemRole), st.just(Skill("one-chord", "rhythm", 0)),
            st.floats(40, 300), st.floats(1, 60), st.just(0.5), st.one_of(st.none(), evidence),
            st.integers(1, 3), st.integers(0, 3), st.integers(0, 99), st.just(0.25),
            st.booleans(),
        ),
        max_size=2,
    ).map(tuple),
    st.just((Rest(1, 5.0),)), st.sampled_from(Manner),
)  # fmt: skip
edits = st.one_of(
    st.builds(
        LineEdit, st.sampled_from(EditAction), st.fractions(0, 99, max_denominator=12),
        st.lists(st.fractions("1/8", 4, max_denominator=12), max_size=3).map(tuple),
    ),
    st.builds(LineRewriting, st.integers(0, 99), st.lists(st.integers(1, 9)).map(tuple)),
)  # fmt: skip
requests = st.one_of(
    st.builds(
        EditLine, st.one_of(st.text(max_size=9), files), st.lists(edits, max_size=3).map(tuple),
        st.booleans(),
    ),
    st.builds(LineVersions, st.text(max_size=9), st.lists(edits, max_size=2).map(tuple), words),
    st.builds(ReadChart, charts, words, words, words, st.one_of(st.none(), st.integers(0, 99))),
    st.builds(ExplainChart, charts, instrument=words),
    st.builds(
        WriteEtude, charts, st.text(max_size=9), instrument=words, tempo_bpm=numbers,
        known_notes=words, kept_from=st.one_of(st.none(), st.text(max_size=9), files),
        seed=st.integers(0, 10**9), degrees=st.booleans(),
    ),
    st.builds(
        MakeLesson, charts, files, instruments=st.tuples(st.text(max_size=9)),
        tempo_bpm=numbers, short=st.booleans(),
    ),
    st.builds(
        MakeFilm, charts, words, tempi=words, overlay=st.booleans(),
        take=st.one_of(st.none(), files), start_s=numbers,
    ),
    st.builds(HearTake, files, st.one_of(st.none(), files), words, st.floats(40, 300)),
    st.builds(
        GiveFeedback, files, st.one_of(st.none(), charts), st.one_of(st.none(), files), numbers,
        st.one_of(st.none(), files), level=words, headphones=st.booleans(),
    ),
    st.builds(
        MakePlan, st.text(max_size=9), evidence=st.lists(evidence, max_size=2).map(tuple),
        minutes=st.floats(10, 180), plan=st.one_of(st.none(), plans),
    ),
)  # fmt: skip


def without_notices(request: Any) -> Any:
    """A sheet's notices are those of its play order as well, once it has been stored."""
    chart = getattr(request, "chart", "")
    return replace(request, chart=replace(chart, notices=())) if hasattr(chart, "bars") else request


@pytest.mark.slow
@given(requests)
def test_a_request_comes_back_as_it_was(request: Any) -> None:
    try:
        again = read_request(request_text(request))
    except ReadError as error:
        if "the repeats make more than" not in error.message:  # nobody could play that page
            raise
        return
    assert type(again) is type(request)
    assert without_notices(again) == without_notices(request)


def test_every_request_has_a_name_and_default_fields() -> None:
    assert list(REQUESTS) == [
        "read-chart", "explain-chart", "write-etude", "edit-line", "line-versions",
        "make-lesson", "make-backing", "make-film", "make-running-order", "hear-take",
        "give-feedback", "outline-line", "list-sounds", "show-course",
        "check-course", "make-plan", "show-progress",
    ]  # fmt: skip
    for kind in REQUESTS.values():
        assert kind.__dataclass_params__.frozen  # type: ignore[attr-defined]
        assert fields(kind)


def test_a_stored_request_says_its_form_and_version() -> None:
    data = json.loads(request_text(ExplainChart("| F7 |")))
    assert (data["format"], data["version"]) == ("halfstep-request", 1)
    assert data["request"] == "explain-chart"
    assert data["fields"]["level"] == "intermediate"


def test_a_job_that_was_stored_writes_the_same_etude() -> None:
    request = WriteEtude("| Gm7 C7 | F6 |", "6", instrument="alto-sax", seed=4)
    again = read_request(request_text(request))
    assert isinstance(again, WriteEtude)
    assert write_one_etude(again).etude.notes == write_one_etude(request).etude.notes


def stored(**changes: Any) -> str:
    data = json.loads(request_text(WriteEtude("| F7 |", "6")))
    fields_of = {**data["fields"], **changes.pop("fields", {})}
    for name in changes.pop("without", ()):
        del fields_of[name]
    return json.dumps({**data, "fields": fields_of, **changes})


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "give a request that Halfstep stored"),
        ("[1]", "give a request that Halfstep stored"),
        (stored(format="halfstep-etude"), "give a request that Halfstep stored"),
        (stored(version=2), "of a version that this program cannot read"),
        (stored(version="1"), "of a version that this program cannot read"),
        (stored(request="sing"), "no request is called 'sing'; there are read-chart, "),
        (stored(request=["sing"]), "no request is called"),
        (stored(fields={"mood": "blue"}), "a request write-etude has no field 'mood'"),
        (stored(without=["step"]), "a request write-etude needs its field step"),
        (stored(fields={"step": 6}), "step 6: the request has something of another kind there"),
        (stored(fields={"seed": True}), "seed true: "),
        (stored(fields={"seed": 1.5}), "seed 1.5: "),
        (stored(fields={"degrees": 1}), "degrees 1: "),
        (stored(fields={"tempo_bpm": "fast"}), 'tempo_bpm "fast": '),
        (stored(fields={"chart": None}), "chart null: "),
        (stored(fields={"chart": {"file": 3}}), "chart "),
        (stored(fields={"chart": {"sheet": {"title": "Vamp"}}}), "not as Halfstep writes it"),
    ],
)
def test_what_is_no_request_is_one_line(text: str, said: str) -> None:
    with pytest.raises(ReadError) as refused:
        read_request(text)
    assert said in str(refused.value)
    assert "\n" not in str(refused.value)


def test_a_whole_number_is_a_tempo_too() -> None:
    request = read_request(stored(fields={"tempo_bpm": 120}))
    assert isinstance(request, WriteEtude)
    assert request.tempo_bpm == 120


def test_an_etude_of_the_first_version_gives_its_bars() -> None:
    """It called steps by numbers, those before the first below 1."""
    reply = write_one_etude(WriteEtude("| Gm7 C7 | F6 |", "rhythm", instrument="alto-sax"))
    data = json.loads(reply.file(".json").data)
    assert (data["version"], data["step"], data["number"]) == (2, "rhythm", None)
    old = json.dumps({**data, "version": 1, "step": -4})
    request = WriteEtude(
        "| Gm7 C7 | F6 |", "6", instrument="alto-sax", kept_bars="2", kept_from=old
    )
    again = write_one_etude(request)
    kept = [note for note in reply.etude.notes if note.onset >= 4]
    line = [note for note in again.etude.notes if note.onset >= 4]
    assert [(n.onset, n.beats, n.pitch) for n in line] == [
        (n.onset, n.beats, n.pitch) for n in kept
    ]


@pytest.mark.slow
@given(sheets())
def test_a_chart_as_data_is_read_back(sheet: Any) -> None:
    text = json_text(chart_data(sheet))
    assert replace(read_chart_data(text), notices=()) == replace(sheet, notices=())


@pytest.mark.parametrize("field", ["title", "bars", "key", "meter", "notices", "tempo_bpm"])
def test_a_chart_with_a_field_missing_is_refused(field: str) -> None:
    data = chart_data(read_chart(ReadChart("| C7 | F7 |")).sheet)
    data["bars"][0].pop("meter")
    data.pop(field, None)
    with pytest.raises(ReadError, match="not as Halfstep writes it"):
        read_chart_data(json_text(data))


@given(
    st.lists(
        st.tuples(st.integers(0, 60_000), st.integers(1, 900), st.integers(36, 96)), max_size=8
    ),
    st.one_of(st.none(), st.integers(-500, 500)),
)
def test_a_take_as_data_is_read_back(
    notes: list[tuple[int, int, int]], delay_ms: int | None
) -> None:
    heard = tuple(
        HeardNote(on / 1000, (on + held) / 1000, midi, 3.5, -12.0, 0.875, midi + 0.03)
        for on, held, midi in notes
    )
    delay_s = None if delay_ms is None else delay_ms / 1000
    take = HeardTake(
        heard,
        61.5,
        tuning_cents=-4.5,
        delay_s=delay_s,
        notices=(TakeNotice(Trouble.CLIPPED, "loud"),),
    )
    written = WrittenTake(take, INSTRUMENTS["tenor-sax"], "Made up")
    assert read_take(json_text(take_data(written))) == take


@pytest.mark.parametrize("field", ["length_s", "delay_s", "notes"])
def test_a_take_with_a_field_missing_is_refused(field: str) -> None:
    written = WrittenTake(HeardTake((), 1.0), INSTRUMENTS["concert"], "Made up")
    data = take_data(written)
    del data[field]
    with pytest.raises(ReadError, match="not as Halfstep writes it"):
        read_take(json_text(data))
