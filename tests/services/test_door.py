"""The door: what ``import halfstep`` shows, what it loads, and that it says what is wrong."""

from __future__ import annotations

import inspect
import subprocess
import sys
from pathlib import Path

import pytest

import halfstep
from halfstep.services.stored_requests import REQUESTS

PUBLIC = {
    "explain", "give_feedback", "hear", "make_backing", "make_lesson", "outline", "read_chart",
    "make_film", "write_etude", "make_plan", "show_course",
    "HalfstepError", "ReadError", "BriefError", "TakeError", "StoreError", "MissingExtra",
    "__version__",
}  # fmt: skip
CHART = "| Dm7 | G7 | Cmaj7 | A7 |"


def test_the_door_shows_these_names_and_has_them() -> None:
    assert set(halfstep.__all__) == PUBLIC
    assert halfstep.__all__ == sorted(halfstep.__all__, key=lambda name: (name.islower(), name))
    assert all(hasattr(halfstep, name) for name in PUBLIC)


def test_every_public_name_says_what_it_is() -> None:
    for name in PUBLIC - {"__version__"}:
        assert inspect.getdoc(getattr(halfstep, name)), name


OF_THE_ROOM = {"about", "band", "early"}
"""What the practice room alone knows of a take."""


@pytest.mark.parametrize(
    ("call", "request_name"),
    [
        ("read_chart", "read-chart"), ("explain", "explain-chart"), ("hear", "hear-take"),
        ("write_etude", "write-etude"), ("outline", "outline-line"),
        ("make_lesson", "make-lesson"), ("make_backing", "make-backing"),
        ("make_film", "make-film"), ("give_feedback", "give-feedback"), ("make_plan", "make-plan"),
        ("show_course", "show-course"),
    ],
)  # fmt: skip
def test_a_call_takes_every_field_of_its_request(call: str, request_name: str) -> None:
    fields = set(inspect.signature(REQUESTS[request_name]).parameters) - OF_THE_ROOM
    assert set(inspect.signature(getattr(halfstep, call)).parameters) - {"progress"} == fields


def test_the_door_loads_nothing_but_errors() -> None:
    code = "import halfstep, sys; print(*(m for m in sys.modules if m.startswith('halfstep')))"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert set(done.stdout.split()) == {"halfstep", "halfstep.errors", "halfstep.version"}


@pytest.mark.parametrize("call", ["read_chart", "explain"])
def test_a_chart_is_shown_without_numpy(call: str) -> None:
    code = f"import halfstep, sys; halfstep.{call}({CHART!r}); print('numpy' in sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout == "False\n"


def test_a_chart_is_read_from_text_a_name_a_path_and_a_sheet(tmp_path: Path) -> None:
    path = tmp_path / "vamp.txt"
    path.write_text(CHART, "utf-8")
    chords = [
        [str(at.symbol) for bar in halfstep.read_chart(source).sheet.bars for at in bar.chords]
        for source in (CHART, str(path), path, halfstep.read_chart(CHART).sheet)
    ]
    assert chords == [["Dm7", "G7", "Cmaj7", "A7"]] * 4


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: halfstep.write_etude(CHART, 6, tempo_bpm=301), "^tempo_bpm 301: give pulses"),
        (lambda: halfstep.write_etude(CHART, 14), "^step: there is no step '14'"),
        (lambda: halfstep.write_etude(CHART, 6, seed=-1), "^seed -1"),
        (lambda: halfstep.write_etude(CHART, 6, feel="shuffle"), "^feel 'shuffle': choose"),
        (lambda: halfstep.write_etude(CHART, 6, known_notes=" "), "^known_notes is empty"),
        (lambda: halfstep.write_etude(CHART, 6, kept_bars="1"), "^kept_bars and kept_from go"),
        (lambda: halfstep.write_etude(CHART, 6, print_setting="largo"), "did you mean large?"),
        (lambda: halfstep.make_lesson(CHART, "x", print_setting="9 bars"), "give 1 to 8 bars"),
        (lambda: halfstep.make_plan("flute", print_setting="2mm"), "give 5mm to 16mm"),
        (lambda: halfstep.explain(CHART, level="expert"), "^level 'expert': choose from"),
        (lambda: halfstep.explain(CHART, reading="C2"), "^reading: "),
        (lambda: halfstep.make_lesson(CHART, "x", paper="a5"), "^paper 'a5': choose from"),
        (lambda: halfstep.read_chart(CHART).written("braille"), "^notation 'braille': choose"),
    ],
)  # fmt: skip
def test_what_makes_no_sense_names_its_field(call, words: str, tmp_path: Path, monkeypatch) -> None:
    monkeypatch.chdir(tmp_path)
    with pytest.raises(halfstep.BriefError, match=words) as refused:
        call()
    assert "--" not in str(refused.value)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.slow
def test_no_line_offers_a_request_that_works() -> None:
    from halfstep.services.write_etude import NoEtude, write_one_etude

    with pytest.raises(NoEtude) as refused:
        halfstep.write_etude(
            "| Gm7 C7 | F6 |", 6, instrument="alto-sax", level="beginner", low="B4", high="C5"
        )
    assert refused.value.offer is not None
    assert write_one_etude(refused.value.offer).etude.notes


def test_a_reply_stores_itself_as_a_file() -> None:
    reply = halfstep.write_etude(CHART, "cells", instrument="flute")
    assert reply.file(".mid").data[:4] == b"MThd"
    assert halfstep.explain(CHART).map_file(".pdf").data[:5] == b"%PDF-"


@pytest.mark.slow
def test_a_chart_of_32_000_bars_can_be_asked_for() -> None:
    """A day's worth of choruses, where no function may call itself for each bar; the reader of
    typed text has a limit of its own.
    """
    four = halfstep.read_chart(CHART).sheet
    bars = tuple(four.bars[n % 4] for n in range(32_000))
    long = type(four)(four.title, bars, four.key, four.tempo_bpm, four.feel)
    reply = halfstep.explain(long)
    assert len(reply.part.analysis.chart.form) == 32_000
    assert len(reply.part.analysis.chords) == 32_000


def test_a_chart_that_was_stored_as_data_is_read_again(tmp_path: Path) -> None:
    reply = halfstep.read_chart("title: Vamp\n[A] |: Dm7 | G7 :|x3", key="Eb")
    (tmp_path / "vamp.json").write_text(reply.written("json").text, "utf-8")
    again = halfstep.read_chart(tmp_path / "vamp.json")
    assert again.written("text") == reply.written("text")
    (tmp_path / "vamp.json").write_text("{}", "utf-8")
    with pytest.raises(halfstep.ReadError, match=r"^vamp\.json: give a chart that Halfstep"):
        halfstep.read_chart(tmp_path / "vamp.json")


@pytest.mark.parametrize("name", ["none.txt", "none.musicxml", "none.json", "none"])
def test_a_path_that_is_none_is_said_to_be_missing(name: str, tmp_path: Path) -> None:
    with pytest.raises(halfstep.ReadError, match=name):
        halfstep.read_chart(tmp_path / name)
