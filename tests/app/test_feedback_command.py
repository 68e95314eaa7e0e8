"""``halfstep feedback``: what a teacher may give it, and what it answers.

The takes are made of sine waves, or are our own sound of an etude.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from pypdfium2 import PdfDocument

import halfstep.services.feedback_reply as feedback_reply
from app.app_command import Command, contents
from app.test_hear_command import take_file
from halfstep.data.documents import json_text
from halfstep.errors import TakeError
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.stored_requests import read_request, request_text

CHART = "| Dm7 | G7 | Cmaj7 | A7 |"
ROOTS = [(0.5 + 0.5 * n, 0.45, midi) for n, midi in enumerate((62, 65, 67, 71, 60, 64, 69, 73) * 2)]
"""Two halves a bar at 240, from half a second on."""
FILES = (
    "feedback.json", "feedback.pdf", "feedback.svg", "feedback.png",
    "next-1.pdf", "next-1.m4a", "next-2.pdf", "next-2.m4a",
)  # fmt: skip
KNOWN = ("--chart", CHART, "--tempo", "240", "--start", "0.5")


@pytest.fixture
def take(home: Path) -> str:
    return take_file(home / "take.wav", ROOTS, 9.0)


@pytest.mark.slow
def test_data_are_one_object_and_nothing_else(command: Command, take: str) -> None:
    ran = command("feedback", take, *KNOWN, "--for", "alto-sax", "--json")
    assert (ran.status, ran.err) == (0, "")
    data = json.loads(ran.out)
    assert data["format"] == "halfstep-feedback"
    assert data["instrument"] == "alto-sax"
    assert [note["midi"] for note in data["notes"]] == [midi for _, _, midi in ROOTS]
    assert [(note["pass"], note["bar"], note["beat"]) for note in data["notes"]][:9] == [
        (1, 1, 1), (1, 1, 3), (1, 2, 1), (1, 2, 3), (1, 3, 1), (1, 3, 3), (1, 4, 1), (1, 4, 3),
        (2, 1, 1),
    ]  # fmt: skip


@pytest.mark.slow
def test_a_folder_gets_the_data_and_the_screen_the_name(
    command: Command, take: str, home: Path
) -> None:
    ran = command("feedback", take, *KNOWN, "--out", "monday")
    assert ran.status == 0
    assert ran.out.splitlines() == [f"written to monday/{name}" for name in FILES]
    assert sorted(path.name for path in (home / "monday").iterdir()) == sorted(FILES)
    data = json.loads((home / "monday" / "feedback.json").read_text("utf-8"))
    assert data["title"] == "take"
    assert [name for thing in data["next"] for name in thing["files"]] == [*FILES[4:]]


@pytest.fixture
def data_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    """No pages and no etudes: what takes long and is tested elsewhere."""
    monkeypatch.setattr(feedback_reply, "spot_etudes", lambda *_: ())
    monkeypatch.setattr(feedback_reply, "_pages", lambda *_: b"")
    monkeypatch.setattr(feedback_reply, "_pictures", lambda _: ())


@pytest.mark.slow
@pytest.mark.usefixtures("data_alone")
def test_the_same_take_again_leaves_nothing_of_the_earlier_feedback(
    command: Command, take: str, home: Path
) -> None:
    assert command("feedback", take, *KNOWN, "--out", "monday").status == 0
    for name in ("next-2.pdf", "feedback-2.svg", "notes.txt"):
        (home / "monday" / name).write_text("mine")
    assert command("feedback", take, *KNOWN, "--out", "monday").status == 0
    assert {path.name for path in (home / "monday").iterdir()} == {
        "feedback.json", "feedback.pdf", "notes.txt",
    }  # fmt: skip


@pytest.mark.slow
@pytest.mark.usefixtures("data_alone")
def test_feedback_on_another_take_stays(command: Command, take: str, home: Path) -> None:
    assert command("feedback", take, *KNOWN, "--out", "monday").status == 0
    (home / take).rename(home / "second.wav")
    before = contents(home)
    ran = command("feedback", "second.wav", *KNOWN, "--out", "monday")
    assert (ran.status, ran.out) == (2, "")
    assert "monday holds feedback on another take, 'take'; choose another --out" in ran.err
    (home / "monday" / "feedback.json").write_text("{}")
    ran = command("feedback", "second.wav", *KNOWN, "--out", "monday")
    assert "feedback.json is no feedback of ours; choose another --out" in ran.err
    (home / "monday" / "feedback.json").write_bytes(before["monday/feedback.json"])
    assert contents(home) == before


@pytest.mark.slow
@pytest.mark.usefixtures("data_alone")
def test_data_on_the_screen_are_those_in_the_folder(
    command: Command, take: str, home: Path
) -> None:
    ran = command("feedback", take, *KNOWN, "--json", "--out", "monday")
    assert ran.out == (home / "monday" / "feedback.json").read_text("utf-8")
    assert ran.err.startswith("written to monday")


@pytest.mark.slow
def test_a_job_that_was_stored_gives_the_same_bytes(command: Command, take: str) -> None:
    request = GiveFeedback(
        Path(take), chart=CHART, tempo_bpm=240, start_s=0.5, instrument="alto-sax"
    )
    again = read_request(request_text(request))
    assert isinstance(again, GiveFeedback)
    assert again == request
    shown = command("feedback", take, *KNOWN, "--for", "alto-sax", "--json").out
    assert json_text(give_feedback(again).data()) == shown


@pytest.mark.slow
def test_a_notebook_shows_a_row_for_each_finding(take: str) -> None:
    reply = give_feedback(GiveFeedback(Path(take), chart=CHART, tempo_bpm=240, start_s=0.5))
    page = ElementTree.fromstring(f"<page>{reply._repr_html_()}</page>")
    rows = page.findall(".//tr")
    assert len(rows) == 1 + len(reply.feedback.findings)
    assert "take" in "".join(page.itertext())


@pytest.mark.slow
def test_the_screen_says_first_what_went_well_and_what_to_do_next(
    command: Command, take: str
) -> None:
    ran = command("feedback", take, *KNOWN)
    texts = ran.out.split("\n\n")
    assert "bar" in texts[1]
    assert [text[:2] for text in texts[2:4]] == ["1.", "2."]
    assert texts[4].startswith("Changes (")


@pytest.mark.slow
def test_the_teachers_own_words_are_stored_and_stand_on_the_page(
    command: Command, take: str, home: Path
) -> None:
    (home / "mine.txt").write_text("Well held,\nLena.\n\n\nNow bar 2.\n", "utf-8")
    ran = command("feedback", take, *KNOWN, "--words", "mine.txt", "--out", "monday")
    assert ran.status == 0
    data = json.loads((home / "monday" / "feedback.json").read_text("utf-8"))
    assert data["words"] == ["Well held, Lena.", "Now bar 2."]
    page = PdfDocument(home / "monday" / "feedback.pdf")[0].get_textpage().get_text_bounded()
    assert "Well held, Lena." in page


@pytest.mark.slow
def test_where_a_file_cannot_be_made_there_is_none(
    command: Command, take: str, home: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def no_sound(*_: object) -> bytes:
        raise TakeError("no sound today")

    monkeypatch.setattr("halfstep.render.sound_file.sound_bytes", no_sound)
    before = contents(home)
    ran = command("feedback", take, *KNOWN, "--out", "monday")
    assert (ran.status, "no sound today" in ran.err) == (2, True)
    assert contents(home) == before


@pytest.mark.slow
def test_an_etude_says_chart_tempo_and_player(command: Command, home: Path) -> None:
    etude = ("etude", CHART, "--step", "one-line", "--for", "tenor-sax", "--tempo", "140")
    assert command(*etude, "--out", "line.json").status == 0
    take_file(home / "take.wav", ROOTS, 9.0)
    ran = command("feedback", "take.wav", "--etude", "line.json", "--start", "0.5", "--json")
    assert ran.status == 0
    data = json.loads(ran.out)
    assert (data["instrument"], data["quarters_a_minute"]) == ("tenor-sax", 140)
    assert [bar["chords"][0]["symbol"] for bar in data["chart"]["bars"]] == [
        "Dm7", "G7", "Cmaj7", "A7",
    ]  # fmt: skip


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"chart": {"bars": []}}, "its notes are not as halfstep writes them"),
        ({"chart": None}, "its notes are not as halfstep writes them"),
        ({"level": "expert"}, "its notes are not as halfstep writes them"),
        ({"notes": [{"start": "0"}]}, "its notes are not as halfstep writes them"),
        ({"format": "halfstep-lesson"}, "give an etude that Halfstep stored"),
    ],
)
def test_an_etude_that_was_tampered_with_is_one_line(
    command: Command, take: str, home: Path, changes: dict[str, Any], said: str
) -> None:
    command("etude", CHART, "--step", "scale", "--out", "line.json")
    data = json.loads((home / "line.json").read_text("utf-8"))
    (home / "line.json").write_text(json.dumps(data | changes), "utf-8")
    ran = command("feedback", take, "--etude", "line.json")
    assert (ran.status, ran.out) == (2, "")
    assert said in ran.err


@pytest.mark.slow
def test_a_note_over_a_chord_that_is_not_there_stands_over_the_one_of_its_place(
    command: Command, take: str, home: Path
) -> None:
    command("etude", CHART, "--step", "scale", "--out", "line.json")
    data = json.loads((home / "line.json").read_text("utf-8"))
    asked = ("feedback", take, "--etude", "line.json", "--start", "0.5", "--tempo", "240", "--json")
    plain = json.loads(command(*asked).out)
    notes = [note | {"chord": 99} for note in data["notes"]]
    (home / "line.json").write_text(json.dumps(data | {"notes": notes}), "utf-8")
    assert json.loads(command(*asked).out) == plain


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (("none.wav", *KNOWN), "'none.wav': there is no such file"),
        (("take.wav",), "no chords are known to judge the take by; give --chart"),
        (("take.wav", "--chart", CHART), "no tempo is known; give --tempo"),
        (
            ("take.wav", "--chart", CHART, "--backing", "take.wav"),
            "no tempo is known: --backing take.wav does not say its own; give --tempo",
        ),
        (("take.wav", "--chart", "| N.C. | % |", "--tempo", "120"), "--chart: it has no chords"),
        (("take.wav", "--chart", "", "--tempo", "120"), "the chart has no chords"),
        (("take.wav", *KNOWN, "--level", "expert"), "--level 'expert': choose"),
        (("take.wav", *KNOWN, "--for", "kazoo"), "kazoo"),
        (("take.wav", *KNOWN, "--etude", "none.json"), "--etude 'none.json': cannot read it"),
        (("take.wav", *KNOWN, "--etude", "take.wav"), "--etude 'take.wav': give an etude"),
        (("take.wav", *KNOWN, "--etude", "other.json"), "bar 2 has Cm7 there and G7 in the chart"),
        (("take.wav", *KNOWN, "--etude", "short.json"), "over a form of 8 quarter notes"),
        (("take.wav", "--etude", "other.json", "--for", "flute"), "it is for concert, not flute"),
        (("take.wav", "--etude", "other.json", "--step", "6"), "--etude and --step"),
        (("take.wav", *KNOWN, "--out", ""), "--out is empty"),
        (("take.wav", *KNOWN, "--words", "none.txt"), "--words none.txt: No such file"),
        (("take.wav", *KNOWN, "--words", "take.wav"), "--words take.wav: it is no text"),
        (("take.wav", *KNOWN, "--paper", "b5"), "--paper 'b5': choose from a4, letter"),
        (("take.wav", *KNOWN, "--out", "take.wav"), "take.wav is a file"),
    ],
)
@pytest.mark.usefixtures("take")
def test_what_does_not_go_together_is_one_line(
    command: Command, home: Path, arguments: tuple[str, ...], said: str
) -> None:
    command("etude", "| Dm7 | Cm7 | Cmaj7 | A7 |", "--step", "scale", "--out", "other.json")
    command("etude", "| Dm7 | G7 |", "--step", "scale", "--out", "short.json")
    before = contents(home)
    ran = command("feedback", *arguments)
    assert (ran.status, ran.out) == (2, "")
    assert ran.err.count("\n") == 1
    assert said in ran.err
    assert contents(home) == before


def test_a_beginning_behind_the_end_is_refused_in_one_line(command: Command, take: str) -> None:
    ran = command("feedback", take, "--chart", CHART, "--tempo", "240", "--start", "30000")
    assert (ran.status, ran.out) == (2, "")
    assert ran.err == (
        "halfstep: --start 30000: the recording ends at 9.00 s; say where in it bar 1 begins\n"
    )
