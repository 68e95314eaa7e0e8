"""Does what is allowed, and what is taken back, hold at once on every page and address?"""

from __future__ import annotations

import io
import json
import zipfile
from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from desks import Desk
from handed_out import chart_of, form_for, made, short_recording, small_lesson
from starlette.testclient import TestClient

from halfstep.app.tasks.account_tasks import THE_MACHINE, invite
from halfstep.data.feedback_json import feedback_data
from halfstep.school.accounts import AccountRole, account_named
from halfstep.school.retention import let_go
from halfstep.school.sent_takes import keep_sent_take, store_recording
from halfstep.school.sessions import begin_session
from made_feedback import made_feedback

ABOUT = {"sample_rate": 48_000, "title": "Two Roads", "tempo_bpm": 96, "headphones": True}
REFUSED = "recording is not allowed for this player, so nothing was kept"


@pytest.fixture
def school(desk: Desk) -> dict[str, TestClient]:
    """An owner, Ansel's guardian, by whom he is under age, and Ansel and Corin by their links."""
    invite(desk.school, "Wilma", AccountRole.OWNER, by=THE_MACHINE)
    invite(desk.school, "Greta", AccountRole.GUARDIAN, player=1, by=THE_MACHINE)
    return {
        **{name: signed_in(desk, name) for name in ("Wilma", "Greta")},
        **{name: desk.student(name) for name in ("Ansel", "Corin")},
    }


def signed_in(desk: Desk, name: str) -> TestClient:
    with desk.school.writing() as connection:
        account = account_named(connection, name)
        assert account is not None
        return desk.visitor(begin_session(connection, account, "test"))


def say(browser: TestClient, word: str, purpose: str, student: int = 1) -> int:
    sent = {"word": word, "purpose": purpose}
    return browser.post(f"/students/{student}/consents", data=sent).status_code


def begin(player: TestClient, key: str = "") -> tuple[int, str]:
    sent = {"key": key or str(uuid4()), "piece": "/room/items/1", "about": ABOUT}
    answer = player.post("/room/recordings", json=sent)
    return answer.status_code, answer.text


def take_of(desk: Desk, student: int = 1) -> int:
    file = desk.school.folder / "evening.wav"
    file.write_bytes(b"RIFF the only sound of it")
    with desk.school.writing() as connection:
        stored = store_recording(desk.school, student, file)
        file.unlink()
        return keep_sent_take(connection, stored, hand_out=None, name="evening").number


@pytest.mark.slow
def test_nothing_of_who_is_under_age_is_recorded_before_a_guardian_allows_it(
    school: dict[str, TestClient],
) -> None:
    ansel = school["Ansel"]
    room = ansel.get("/room", follow_redirects=True).text
    assert "Recording is not allowed for you just now" in room
    assert "data-record" not in room
    assert "tape.js" not in room
    status, text = begin(ansel)
    assert (status, REFUSED in text) == (403, True)
    assert say(ansel, "allow", "recording") == 403
    assert say(school["Greta"], "allow", "recording") == 303
    assert "data-record" in ansel.get("/room", follow_redirects=True).text
    assert begin(ansel)[0] == 200
    assert begin(school["Corin"])[0] == 200, "of whom nobody has said that he is under age"


@pytest.mark.slow
def test_a_recording_is_refused_wherever_it_comes(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
    desk.teacher().post("/hand-outs", data=form_for(chart_of(desk)))
    made(desk)
    ansel = desk.student("Ansel")
    assert 'type="file"' in ansel.get("/week").text
    assert say(ansel, "take-back", "recording") == 303
    assert "Recording is not allowed" in ansel.get("/week").text
    assert 'type="file"' not in ansel.get("/week").text
    files = {"take": ("take.wav", short_recording())}
    sent = [
        ansel.post("/week/1/take", files=files),
        ansel.post("/room/files", files=files, data={"piece": "/room/items/1"}),
        ansel.post("/api/hand-outs/1/takes?name=take.wav", content=short_recording()),
    ]
    for answer in sent:
        assert (answer.status_code, REFUSED in answer.text) == (403, True), answer.text
    assert [path for path in (desk.school.folder / "takes").rglob("*") if path.is_file()] == []
    assert "None was sent yet" in desk.teacher().get("/students/1").text


@pytest.mark.slow
def test_what_was_not_sent_goes_when_recording_is_taken_back(desk: Desk) -> None:
    ansel, key = desk.student("Ansel"), str(uuid4())
    begin(ansel, key)
    ansel.put(f"/room/recordings/{key}?from=0", content=b"sound" * 100)
    sound = desk.school.folder / "recordings" / "1" / f"{key}.pcm"
    assert sound.exists()
    assert say(ansel, "take-back", "recording") == 303
    assert not sound.exists()
    assert ansel.put(f"/room/recordings/{key}?from=0", content=b"sound").status_code == 404
    assert ansel.delete(f"/room/recordings/{key}").status_code == 404
    assert say(ansel, "allow", "recording") == 303
    assert begin(ansel, key)[0] == 200


@pytest.mark.slow
def test_who_teaches_sees_nothing_of_takes_that_may_not_be_heard(
    desk: Desk, school: dict[str, TestClient]
) -> None:
    number, wilma = take_of(desk), school["Wilma"]
    for word, is_there in (("allow", True), ("take-back", False)):
        assert say(school["Greta"], word, "hearing") == 303
        assert ("evening" in wilma.get("/takes").text) is is_there
        assert ("evening" in wilma.get("/desk").text) is is_there
        assert ("evening" in wilma.get("/students/1").text) is is_there
        for path in ("/api/takes", "/api/students/1/takes"):
            assert bool(wilma.get(path).json()["takes"]) is is_there
        for path in (f"/takes/{number}", f"/takes/{number}/recording"):
            assert wilma.get(path).status_code == (200 if is_there else 404)
        saved = zipfile.ZipFile(io.BytesIO(wilma.get("/students/1/export.zip").content))
        assert any(name.endswith(".wav") for name in saved.namelist()) is is_there
        for who in ("Ansel", "Greta"):
            assert school[who].get(f"/my-takes/{number}").status_code == 200
            assert school[who].get(f"/takes/{number}/recording").status_code == 200
            own = zipfile.ZipFile(io.BytesIO(school[who].get("/students/1/export.zip").content))
            assert any(name.endswith(".wav") for name in own.namelist())
    assert "heard here is not allowed" in wilma.get("/students/1").text


@pytest.mark.slow
def test_a_teacher_writes_down_what_is_on_paper_where_no_guardian_signs_in(desk: Desk) -> None:
    teacher, ansel = desk.teacher(), desk.student("Ansel")
    assert say(teacher, "allow", "keeping") == 403, "who decides alone says it alone"
    assert teacher.post("/students/1/age", data={"under_age": "yes"}).is_redirect
    assert begin(ansel)[0] == 403
    assert "no recording allowed, no hearing allowed" in teacher.get("/classes/1").text
    assert say(teacher, "allow", "recording") == 303
    assert "no recording allowed" not in teacher.get("/classes/1").text
    assert "by a guardian, on paper on" in teacher.get("/students/1").text
    assert begin(ansel)[0] == 200
    assert say(ansel, "take-back", "recording") == 303
    assert begin(ansel)[0] == 403
    assert teacher.post("/students/1/age", data={}).is_redirect
    assert begin(ansel)[0] == 403, "a no stands until who decides says yes"
    assert say(ansel, "allow", "recording") == 303
    assert begin(ansel)[0] == 200


@pytest.mark.slow
def test_where_a_guardian_signs_in_the_teacher_takes_back_and_does_not_allow(
    school: dict[str, TestClient],
) -> None:
    wilma, greta = school["Wilma"], school["Greta"]
    assert say(wilma, "allow", "recording") == 403
    assert say(greta, "allow", "recording") == 303
    assert say(wilma, "take-back", "recording") == 303
    assert say(greta, "allow", "recording", student=2) == 404
    assert say(greta, "allow", "flying") == 422
    assert say(greta, "forbid", "recording") == 422
    text = greta.get("/wards").text
    assert 'not allowed<span class="quiet">, taken back by a teacher on' in text


@pytest.mark.slow
def test_what_was_done_stands_in_the_log_without_a_name_in_the_database(
    school: dict[str, TestClient],
) -> None:
    say(school["Greta"], "allow", "recording")
    say(school["Corin"], "take-back", "hearing", student=2)
    wilma = school["Wilma"]
    assert wilma.post("/settings", data=chosen(recording_days="90")).is_redirect
    log = wilma.get("/people/log").text
    for words in (
        "marked as under age, Ansel",
        "allowed: recording, as guardian, Ansel",
        "took back: hearing, as player, Corin",
        "chose: recording-days 90",
    ):
        assert words in log
    wilma.post("/students/1/erase")
    assert "allowed: recording, as guardian</td>" in wilma.get("/people/log").text


def chosen(**changed: str) -> dict[str, str]:
    usual = {
        "consent_age": "16",
        "recording_days": "180",
        "longer_days": "730",
        "feedback_days": "1096",
        "leaver_days": "365",
    }
    return usual | changed


@pytest.mark.slow
def test_settings_are_taken_whole_or_not_at_all(school: dict[str, TestClient]) -> None:
    wilma = school["Wilma"]
    answer = wilma.post("/settings", data=chosen(consent_age="14", leaver_days="0"))
    assert answer.status_code == 422
    assert "Days after the last class" in answer.text
    assert "give 30 to 1096 days" in answer.text
    assert 'value="16"' in wilma.get("/settings").text
    assert wilma.post("/settings", data=chosen(consent_age="14")).is_redirect
    assert "Under 14: a guardian decides." in school["Greta"].get("/wards").text


@pytest.mark.slow
def test_a_take_says_until_when_it_is_kept_and_that_it_has_gone(desk: Desk) -> None:
    number, ansel = take_of(desk), desk.student("Ansel")
    now = datetime.now(UTC)
    until = now + timedelta(days=180)
    words = f"kept until {until.day} {until:%B %Y}"
    assert words in ansel.get(f"/my-takes/{number}").text
    assert words in desk.teacher().get(f"/takes/{number}").text
    assert "each recording 180 days" in ansel.get("/kept").text
    say(ansel, "allow", "keeping")
    assert words not in ansel.get(f"/my-takes/{number}").text
    assert "each recording 2 years" in ansel.get("/kept").text
    let_go(desk.school, now + timedelta(days=731))
    for browser, path in ((ansel, f"/my-takes/{number}"), (desk.teacher(), f"/takes/{number}")):
        text = browser.get(path).text
        assert "The recording has gone, as its time was over" in text
        assert "<audio" not in text
    assert ansel.get(f"/takes/{number}/recording").status_code == 404
    saved = zipfile.ZipFile(io.BytesIO(ansel.get("/students/1/export.zip").content))
    assert json.loads(saved.read("Ansel/sent.json"))[0]["file"] == ""


@pytest.mark.slow
def test_a_class_hears_what_is_shared_with_it_while_that_is_allowed(desk: Desk) -> None:
    number, teacher = take_of(desk), desk.teacher()
    players = {name: desk.student(name) for name in ("Ansel", "Corin", "Dilys")}
    teacher.post("/classes", data={"name": "Another"})
    dilys = {"name": "Dilys", "instrument": "flute", "level": "beginner", "classes": "2"}
    assert teacher.post("/students/3", data=dilys).is_redirect
    path, share = f"/shared/{number}/recording", {"class": "1", "word": "share"}

    def hearers() -> set[str]:
        heard = {name for name, one in players.items() if one.get(path).status_code == 200}
        shown = {name for name, one in players.items() if path in one.get("/week").text}
        assert heard == shown
        return heard

    assert teacher.post(f"/takes/{number}/share", data=share).status_code == 403
    assert "is not allowed" in teacher.get(f"/takes/{number}").text
    say(players["Ansel"], "allow", "sharing")
    assert hearers() == set()
    assert teacher.post(f"/takes/{number}/share", data=share).is_redirect
    assert hearers() == {"Corin"}, "Ansel has it among the own, Dilys is in another class"
    assert "Room Twelve hears it" in teacher.get(f"/takes/{number}").text
    assert teacher.post(f"/takes/{number}/share", data=share | {"class": "2"}).status_code == 404
    assert players["Corin"].get(f"/my-takes/{number}").status_code == 404
    for purpose in ("sharing", "hearing"):
        say(players["Ansel"], "take-back", purpose)
        assert hearers() == set()
        say(players["Ansel"], "allow", purpose)
        assert hearers() == set(), "it is shared anew by a teacher, not by itself"
        teacher.post(f"/takes/{number}/share", data=share)
        assert hearers() == {"Corin"}
    teacher.post("/students/1/age", data={"under_age": "yes"})
    assert hearers() == set()
    teacher.post("/students/1/age", data={})
    teacher.post(f"/takes/{number}/share", data=share | {"word": "end"})
    assert hearers() == set()
    for sent in ({"class": "1", "word": "x"}, {"class": "x", "word": "share"}):
        assert teacher.post(f"/takes/{number}/share", data=sent).status_code == 422


def test_who_has_left_reads_when_all_of_it_goes(desk: Desk) -> None:
    ansel, teacher = desk.student("Ansel"), desk.teacher()
    assert "no class any more" not in ansel.get("/kept").text
    teacher.post("/classes/1/remove")
    goes = datetime.now(UTC) + timedelta(days=365)
    for text in (ansel.get("/kept").text, teacher.get("/students/1").text):
        assert f"goes on {goes.day} {goes:%B %Y}" in text


def test_what_is_kept_of_a_note_is_a_few_numbers_and_words() -> None:
    """No curve of a pitch, no timbre: nothing by which a voice could be known again."""
    data = feedback_data(*made_feedback(), ())
    assert {name for note in data["notes"] for name in note} == {
        "onset_s", "offset_s", "midi", "note", "cents", "certainty",
        "bar", "beat", "beats", "pass", "chord", "degree", "role", "onset",
    }  # fmt: skip
    assert not any(
        isinstance(value, list | dict) for note in data["notes"] for value in note.values()
    )
