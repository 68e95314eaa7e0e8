"""Is a line written over a chart, edited in place, undone, locked, and seen in other versions?"""

from __future__ import annotations

import re

import pytest
from desks import Desk
from starlette.testclient import TestClient

from halfstep.app.tasks.line_tasks import OpenLine, open_line
from halfstep.etude.line_edit import LineEdit, LineRewriting
from halfstep.school.kept_charts import remove_chart
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from halfstep.services.request_files import with_files_below
from halfstep.services.stored_requests import read_request

CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 |"
ASKED = {"step": "chorus", "level": "intermediate", "instrument": "alto-sax", "seed": "1"}
SWAP = {"x-swap": "#music,#said,#note-field,#bar-field,#doings,#whole,#sound"}


def teacher(desk: Desk, **asked: str) -> TestClient:
    """A teacher with a chart and, over it, line 1."""
    client = desk.teacher()
    assert client.post("/charts", data={"text": CHART}).headers["location"] == "/charts/1"
    answer = client.post("/charts/1/lines", data={**ASKED, **asked})
    assert (answer.status_code, answer.headers["location"]) == (303, "/lines/1")
    return client


def kept(desk: Desk) -> OpenLine:
    return open_line(desk.school, 1)


def first(desk: Desk) -> str:
    return str(next(note.onset for note in kept(desk).reply.etude.notes if note.pitch))


def edit(client: TestClient, action: str, at: str, **more: str):
    return client.post("/lines/1/edits", data={"do": action, "at": at, **more}, headers=SWAP)


def test_a_line_is_written_and_shown_with_its_notes_in_words(desk: Desk) -> None:
    page = teacher(desk).get("/lines/1").text
    line = kept(desk).reply
    assert page.count("data-note=") >= len([n for n in line.etude.notes if n.pitch])
    assert page.count("<option value=") >= len(line.etude.notes)
    assert "Written for Alto saxophone" in page
    assert re.search(r'<option value="0"[^>]*>bar 1 beat 1: (rest|[A-G])', page)
    assert ">Step up<" in page
    assert "<script>" not in page
    assert "style=" not in page


@pytest.mark.slow
def test_a_chart_shows_the_lines_over_it(desk: Desk) -> None:
    client = teacher(desk)
    client.post("/charts/1/lines", data={**ASKED, "step": "arpeggio", "instrument": ""})
    page = client.get("/charts/1").text
    shown = re.findall(r'<a href="(/lines/\d)">([^<]+)</a>', page)
    assert shown == [
        ("/lines/2", "Arpeggio, for Concert pitch, intermediate"),
        ("/lines/1", "Chorus, for Alto saxophone, intermediate"),
    ]


@pytest.mark.slow
def test_an_edit_answers_with_the_page_and_is_kept(desk: Desk) -> None:
    client = teacher(desk)
    at = first(desk)
    before = kept(desk).reply.etude.notes
    answer = edit(client, "step-up", at, times="2")
    assert answer.status_code == 200
    assert f'value="{at}" selected' in answer.text
    assert [type(change) for change in kept(desk).reply.edits] == [LineEdit, LineEdit]
    assert kept(desk).reply.etude.notes != before
    assert client.get("/lines/1").text.count(" disabled") == 1, "nothing was undone yet"


@pytest.mark.slow
def test_without_a_script_an_edit_leads_back_to_its_note(desk: Desk) -> None:
    client = teacher(desk)
    at = first(desk)
    answer = client.post("/lines/1/edits", data={"do": "split", "at": at})
    assert (answer.status_code, answer.headers["location"]) == (303, f"/lines/1?at={at}&room=250")
    assert f'value="{at}" selected' in client.get(answer.headers["location"]).text


@pytest.mark.slow
def test_what_was_done_is_undone_and_done_again(desk: Desk) -> None:
    client = teacher(desk)
    at = first(desk)
    lines = [kept(desk).reply.etude.notes]
    for action in ("step-up", "split"):
        edit(client, action, at)
        lines.append(kept(desk).reply.etude.notes)
    for path, notes in (("undo", lines[1]), ("undo", lines[0]), ("redo", lines[1])):
        client.post(f"/lines/1/{path}", data={"at": at}, headers=SWAP)
        assert kept(desk).reply.etude.notes == notes
    edit(client, "octave-down", at)
    answer = client.post("/lines/1/redo", data={"at": at}, headers=SWAP)
    assert "nothing was undone that could be done again" in answer.text
    assert len(kept(desk).reply.edits) == 2


def test_what_cannot_be_done_is_said_in_the_page_and_nothing_is_kept(desk: Desk) -> None:
    client = teacher(desk)
    answer = edit(client, "note", first(desk))
    assert "is a note already" in answer.text
    assert kept(desk).reply.edits == ()


def test_what_breaks_a_rule_is_said_with_its_bar(desk: Desk) -> None:
    client = teacher(desk)
    answer = edit(client, "octave-up", first(desk), times="2")
    assert "breaks the rule “every written note is in the player&#39;s range”" in answer.text
    assert "Said, not forbidden" in answer.text


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        ({"do": "sing", "at": "0"}, "do &#39;sing&#39;: no note is edited so"),
        ({"do": "split", "at": "x"}, "at: choose a note of the line first"),
        ({"do": "split", "at": "1/0"}, "at: choose a note of the line first"),
        ({"do": "split", "at": "1e999999999999999"}, "at: choose a note of the line first"),
        ({"do": "rhythm", "at": "0", "figure": "1 " * 9999}, "choose one of the rhythms"),
        ({"do": "rhythm", "at": "0", "figure": "1e99999999 1"}, "choose one of the rhythms"),
        ({"do": "rhythm", "at": "0", "figure": "1 x"}, "choose one of the rhythms"),
        ({"do": "rhythm", "at": "0", "figure": "1"}, "the rhythm has to fill it"),
        ({"do": "split", "at": "1/7"}, "no note or rest of the line begins at beat 1/7"),
    ],
)
def test_bad_input_has_one_line(desk: Desk, fields: dict[str, str], line: str) -> None:
    answer = teacher(desk).post("/lines/1/edits", data=fields)
    assert answer.status_code == 422
    assert line in answer.text


@pytest.mark.slow
def test_a_bar_takes_a_rhythm_that_is_offered(desk: Desk) -> None:
    client = teacher(desk)
    page = client.get("/lines/1?at=4").text
    assert "<h2>Bar 2</h2>" in page
    offered = re.search(r'id="figure".*?<option value="([^"]+)">([^<]+)<', page, re.DOTALL)
    assert offered
    answer = edit(client, "rhythm", "4", figure=offered[1])
    assert answer.status_code == 200
    inside = [note.beats for note in kept(desk).reply.etude.notes if 4 <= note.onset < 8]
    assert [str(beats) for beats in inside] == offered[1].split()


@pytest.mark.slow
def test_locked_bars_stand_while_the_rest_is_written_again(desk: Desk) -> None:
    client = teacher(desk)
    for bar in ("2", "3", "4", "4"):
        page = client.post("/lines/1/lock", data={"bar": bar, "at": "4"}, headers=SWAP).text
    assert kept(desk).locked == (2, 3)
    assert "Locked: bars 2–3." in page
    assert page.count('class="locked"') == 2
    before = kept(desk).reply.etude.notes
    client.post("/lines/1/anew", data={"at": "4"}, headers=SWAP)
    after = kept(desk).reply
    assert isinstance(after.edits[-1], LineRewriting)

    def middle(notes):
        return [(n.onset, n.pitch) for n in notes if 4 <= n.onset < 12]

    assert middle(after.etude.notes) == middle(before)
    assert after.etude.notes != before
    assert client.post("/lines/1/lock", data={"bar": "9", "at": "4"}).status_code == 422


@pytest.mark.slow
def test_three_versions_stand_side_by_side_and_one_is_taken(desk: Desk) -> None:
    client = teacher(desk, step="arpeggio")
    page = client.get("/lines/1/versions").text
    seeds = re.findall(r'name="seed" value="(\d+)"', page)
    assert len(set(seeds)) == 3
    client.post("/lines/1/anew", data={"seed": seeds[1], "at": "0"})
    assert kept(desk).reply.etude.brief.seed == int(seeds[1])
    client.post("/lines/1/undo", data={"at": "0"})
    assert kept(desk).reply.etude.brief.seed == 1


@pytest.mark.slow
def test_the_line_is_saved_as_it_was_edited(desk: Desk) -> None:
    client = teacher(desk)
    plain = client.get("/lines/1/line.musicxml").text
    edit(client, "split", first(desk))
    edited = client.get("/lines/1/line.musicxml")
    assert edited.text.count("<note") == plain.count("<note") + 1
    assert 'filename="line-1.musicxml"' in edited.headers["content-disposition"]
    assert client.get("/lines/1/line.pdf").content.startswith(b"%PDF")
    assert client.get("/lines/1/line.exe").status_code == 404


def test_a_line_that_cannot_be_written_is_offered_otherwise(desk: Desk) -> None:
    client = teacher(desk)
    answer = client.post("/charts/1/lines", data={**ASKED, "step": "no such step"})
    assert answer.status_code == 422
    assert "Step" in answer.text
    answer = client.post("/charts/1/lines", data={**ASKED, "tempo_bpm": "9000"})
    assert "Tempo 9000: give pulses a minute" in answer.text
    assert client.post("/charts/7/lines", data=ASKED).status_code == 404


def test_a_line_moves_to_another_key_and_goes_with_its_chart(desk: Desk) -> None:
    client = teacher(desk, key="Bb", style="bossa-nova")
    assert str(kept(desk).reply.part.analysis.home) == "B♭ major"
    assert kept(desk).request.feel == "straight"
    with desk.school.writing() as connection:
        remove_chart(connection, 1)
    assert client.get("/lines/1").status_code == 404


def test_a_line_is_removed_and_leads_back_to_its_chart(desk: Desk) -> None:
    client = teacher(desk)
    assert client.post("/lines/1/remove").headers["location"] == "/charts/1"
    assert client.get("/lines/1").status_code == 404


@pytest.mark.slow
def test_nobody_but_the_teacher_sees_or_changes_a_line(desk: Desk) -> None:
    teacher(desk)
    for visitor in (desk.student("Ansel"), desk.visitor()):
        for path in ("", "/versions", "/line.json"):
            assert visitor.get(f"/lines/1{path}").status_code == 403
        for path in ("edits", "undo", "redo", "lock", "anew", "remove"):
            assert visitor.post(f"/lines/1/{path}", data={"at": "0"}).status_code == 403


@pytest.mark.slow
@pytest.mark.parametrize("key", ["", "Bb"])
def test_a_line_is_handed_out_as_it_was_edited_before_steps_or_alone(desk: Desk, key: str) -> None:
    """The lesson that a worker makes of it holds the line, in each player's own names."""
    client = teacher(desk, key=key)
    edit(client, "split", first(desk))
    form = client.get("/hand-outs/new?chart=1&line=1").text
    assert not re.search(r'name="steps" value="[^"]+" checked', form)
    answer = client.post(
        "/hand-outs", data={"chart": "1", "line": "1", "whom": "student-3", "tempo_bpm": "100"}
    )
    assert answer.headers["location"] == "/hand-outs/1"
    with desk.school.reading() as connection:
        text = connection.exec_driver_sql("SELECT request FROM jobs").scalar_one()
    request = with_files_below(read_request(text), desk.school.folder)
    assert isinstance(request, MakeLesson)
    brief = lesson_brief(request)
    line = kept(desk).reply.etude
    assert brief.line is not None
    assert str(brief.chart.key) == ("B♭ major" if key else "F major")
    assert [note.midi for note in brief.line.notes] == [n.pitch.midi for n in line.notes if n.pitch]
