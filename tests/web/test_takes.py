"""Does a take reach the teacher, and the teacher's words the player, and nobody else?"""

from __future__ import annotations

import json
import re
from dataclasses import replace

import pytest
from desks import Desk

from halfstep.app.tasks.heard_take_tasks import ask_to_hear, take_ended
from halfstep.data.documents import json_text
from halfstep.data.feedback_json import feedback_data
from halfstep.school.jobs import JobState, jobs_of
from halfstep.school.made_files import MadeFiles
from halfstep.school.sent_takes import find_sent_take, keep_heard, keep_sent_take, store_recording
from halfstep.school.students import find_student
from made_feedback import made_feedback


def send(desk: Desk, name: str = "Ansel", *, lesson: str = "") -> int:
    """A take of somebody that is kept, and not heard."""
    file = desk.school.folder / "evening.wav"
    file.write_bytes(b"RIFF" + name.encode())
    with desk.school.writing() as connection:
        student = find_student(connection, name)
        assert student.number is not None
        stored = store_recording(desk.school, student.number, file)
        take = keep_sent_take(connection, stored, hand_out=None, name="evening <1>.wav")
        if lesson:
            ask_to_hear(connection, student, take, lesson=lesson)
    return take.number


def hear(desk: Desk, number: int) -> None:
    """What a job would have heard."""
    feedback, written = made_feedback()
    text = json_text(feedback_data(feedback, written, ()))
    folder = desk.school.folder / "made" / "1-x" / "files"
    folder.mkdir(parents=True)
    (folder / "feedback.svg").write_text("<svg xmlns='http://www.w3.org/2000/svg'/>")
    with desk.school.writing() as connection:
        keep_heard(connection, number, feedback=text, folder="made/1-x/files")


def test_what_was_sent_waits_for_the_teacher(desk: Desk) -> None:
    number = send(desk)
    text = desk.teacher().get("/takes").text
    assert f'<a href="/takes/{number}">Ansel</a>' in text
    assert "evening &lt;1&gt;.wav" in text


@pytest.mark.parametrize(
    ("name", "path"),
    [("Ansel", "/my-takes/{}"), ("Ansel", "/room/takes/{}/told"), ("", "/takes/{}")],
)
def test_a_take_whose_page_is_looked_at_while_it_waits_goes_before_homework(
    desk: Desk, name: str, path: str
) -> None:
    homework, number = send(desk, "Corin", lesson="lessons/2"), send(desk, lesson="lessons/1")
    browser = desk.student(name) if name else desk.teacher()
    browser.get("/my-takes" if name else "/takes")
    assert stands_back(desk, number), "a list is no page of it"
    assert browser.get(path.format(number)).status_code == 200
    assert not stands_back(desk, number)
    assert stands_back(desk, homework)


def stands_back(desk: Desk, number: int) -> bool:
    """Whether those pass before a take who are waited for."""
    with desk.school.reading() as connection:
        (job,) = jobs_of(connection, f"sent-take {number}")
    return job.stands_back


def test_a_take_that_was_heard_is_shown_bar_by_bar(desk: Desk) -> None:
    number = send(desk)
    hear(desk, number)
    text = desk.teacher().get(f"/takes/{number}").text
    assert "In two minutes" in text
    times = [float(time) for time in re.findall(r'data-time="([\d.]+)"', text)]
    assert times[:3] == [2.0, 4.0, 6.0], "bar 1 at two seconds, a bar of four beats at 120"
    assert 'class="sign full">in time' in text
    assert f"/takes/{number}/files/feedback.svg" in text


@pytest.mark.slow
def test_the_teachers_words_reach_the_player(desk: Desk) -> None:
    number = send(desk)
    hear(desk, number)
    ansel = desk.student("Ansel")
    before = ansel.get(f"/my-takes/{number}").text
    assert "What was heard" in before
    sent = {"words": "Warm sound.\n\nNow the third bar.", "tone": "3", "story": ""}
    answer = desk.teacher().post(f"/takes/{number}/words", data=sent)
    assert answer.status_code == 303
    after = ansel.get(f"/my-takes/{number}").text
    assert "<p>Warm sound.</p>" in after
    assert "<dt>Tone</dt><dd>mostly</dd>" in after
    assert "What was heard" not in after, "the teacher's words replace ours"
    assert "your teacher has answered" in ansel.get("/my-takes").text
    assert "Nothing waits" in desk.teacher().get("/takes").text


@pytest.mark.parametrize(
    ("sent", "line"),
    [
        ({"words": " "}, "say something, or mark one of the lines"),
        ({"words": "x" * 2501, "tone": "2"}, "send 2500 or less"),
    ],
)
def test_words_that_cannot_be_sent_stay_in_their_field(
    desk: Desk, sent: dict[str, str], line: str
) -> None:
    number = send(desk)
    answer = desk.teacher().post(f"/takes/{number}/words", data=sent)
    assert answer.status_code == 422
    assert line in answer.text
    assert sent["words"].strip() in answer.text
    if "tone" in sent:
        assert re.search(r'name="tone" value="2" checked', answer.text)


@pytest.mark.parametrize("path", ["", "/recording", "/backing", "/files/feedback.svg"])
def test_nobody_sees_anothers_take(desk: Desk, path: str) -> None:
    number = send(desk)
    address = f"/my-takes/{number}" if not path else f"/takes/{number}{path}"
    for browser, status in ((desk.student("Corin"), 404), (desk.visitor(), 403)):
        assert browser.get(address).status_code == status
        assert browser.get(f"/takes/{number}").status_code == 403


def test_a_player_cannot_answer(desk: Desk) -> None:
    number = send(desk)
    ansel = desk.student("Ansel")
    assert ansel.post(f"/takes/{number}/words", data={"words": "Good"}).status_code == 403
    assert ansel.post(f"/takes/{number}/again").status_code == 403


def test_the_recording_can_be_heard_from_anywhere_in_it(desk: Desk) -> None:
    number = send(desk)
    browser = desk.student("Ansel")
    part = browser.get(f"/takes/{number}/recording", headers={"range": "bytes=4-8"})
    assert (part.status_code, part.content) == (206, b"Ansel")
    assert part.headers["content-type"] == "audio/wav"


def test_a_recording_that_is_called_a_page_is_none(desk: Desk) -> None:
    """It would else be shown by a browser as a page of ours."""
    file = desk.school.folder / "evening.html"
    file.write_bytes(b"RIFF")
    stored = store_recording(desk.school, 1, file)
    with desk.school.writing() as connection:
        take = keep_sent_take(connection, stored, hand_out=None, name="evening.html")
    answer = desk.teacher().get(f"/takes/{take.number}/recording")
    assert answer.headers["content-type"] == "application/octet-stream"


@pytest.mark.parametrize("name", ["%2e%2e", "%2e%2e%2fschool.sqlite3", ".secret", "none.svg"])
def test_no_file_beside_the_feedback_is_given(desk: Desk, name: str) -> None:
    number = send(desk)
    hear(desk, number)
    assert desk.teacher().get(f"/takes/{number}/files/{name}").status_code in {403, 404}


@pytest.mark.slow
def test_a_take_is_heard_once_and_says_why_it_was_not(desk: Desk) -> None:
    number = send(desk, lesson="made/none")
    with desk.school.reading() as connection:
        (job,) = jobs_of(connection, f"sent-take {number}")
    data = json.loads(job.request)["fields"]
    assert data["instrument"] == "alto-sax"
    assert data["called"] == "evening <1>"
    text = desk.teacher().get(f"/takes/{number}").text
    assert "is being heard" in text
    with desk.school.writing() as connection:
        failed = replace(job, state=JobState.FAILED, trouble="`take`: it is silent")
        take_ended(desk.school, connection, failed)
    assert "could not be heard" in desk.teacher().get("/takes").text
    with desk.school.reading() as connection:
        assert find_sent_take(connection, number).trouble == "`take`: it is silent"


def test_the_end_of_hearing_is_kept_with_its_evidence(desk: Desk) -> None:
    number = send(desk, lesson="made/none")
    hear(desk, number)
    feedback, written = made_feedback()
    folder = desk.school.folder / "made" / "1-x" / "files"
    (folder / "feedback.json").write_text(json_text(feedback_data(feedback, written, ())))
    made = MadeFiles("made/1-x/files", ("feedback.json",))
    with desk.school.writing() as connection:
        (job,) = jobs_of(connection, f"sent-take {number}")
        take_ended(desk.school, connection, replace(job, state=JobState.DONE, result=made.text))
        take = find_sent_take(connection, number)
    assert (take.folder, take.trouble) == ("made/1-x/files", "")
    assert json.loads(take.feedback)["title"] == "Made up"
