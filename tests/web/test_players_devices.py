"""Does a link let a player in on a few devices, and stay known there until somebody ends it?"""

from __future__ import annotations

import re
from datetime import UTC, datetime, timedelta

import pytest
from desks import Desk
from sqlalchemy import update
from starlette.testclient import TestClient

from halfstep.app.web.visit import COOKIE
from halfstep.errors import NoSuchThing
from halfstep.school import tables
from halfstep.school.devices import (
    DEVICE_IDLE,
    DEVICE_LONGEST,
    DEVICE_MARK,
    device_of,
    devices_of,
    end_device,
    forget_past_devices,
)
from halfstep.school.invitations import (
    MOST_OPENED,
    OPENS_FOR,
    invite_class,
    invite_student,
    link_word,
    make_anew,
    standing_invitation,
    withdraw,
)

PHONE = {"user-agent": "Mozilla/5.0 (Android 15; Mobile; rv:139.0) Gecko/139.0 Firefox/139.0"}
PAGE = {"accept": "text/html,*/*;q=0.8"}


def path_of(desk: Desk, name: str = "Ansel") -> str:
    """The address of a link that stands."""
    with desk.school.writing() as connection:
        link = standing_invitation(connection, invite_student(connection, name))
    return f"/in/{link_word(desk.secret, link.number, link.round)}"


def come(desk: Desk, path: str, **sent: str) -> TestClient:
    """A browser that has followed a link and said yes."""
    browser = desk.visitor()
    assert browser.get(path).status_code == 200
    assert browser.post(path, data=sent, headers=PHONE).headers["location"] == "/room"
    return browser


def change(desk: Desk, **values: object) -> None:
    """Change all invitations."""
    with desk.school.writing() as connection:
        connection.execute(update(tables.invitations).values(**values))


@pytest.mark.slow
def test_to_look_at_a_link_uses_nothing_up(desk: Desk) -> None:
    """Programs for messages look at an address before anybody follows it."""
    path = path_of(desk)
    for _ in range(3 * MOST_OPENED):
        answer = desk.visitor().get(path)
        assert "Are you Ansel?" in answer.text
        assert "set-cookie" not in answer.headers
    come(desk, path)


@pytest.mark.slow
def test_a_link_opens_on_a_few_devices_and_each_is_known_by_a_word_of_its_own(desk: Desk) -> None:
    path = path_of(desk)
    browsers = [come(desk, path) for _ in range(MOST_OPENED)]
    words = {browser.cookies[COOKIE] for browser in browsers}
    assert len(words) == MOST_OPENED
    assert all(word.startswith(DEVICE_MARK) for word in words)
    for answer in (desk.visitor().get(path), desk.visitor().post(path)):
        assert answer.status_code == 403
        assert "ask your teacher for a new one" in answer.text
    assert all(browser.get("/week").status_code == 200 for browser in browsers)
    files = (file for file in desk.school.folder.rglob("*") if file.is_file())
    raw = b"".join(file.read_bytes() for file in files)
    assert b"Firefox on Android" in raw
    assert not any(word.encode() in raw for word in words)


@pytest.mark.slow
def test_who_is_in_already_follows_the_link_as_often_as_one_likes(desk: Desk) -> None:
    path = path_of(desk)
    browser = come(desk, path)
    for _ in range(2 * MOST_OPENED):
        assert browser.get(path).headers["location"] == "/room"
    change(desk, opens_until=datetime.now(UTC) - timedelta(seconds=1))
    assert browser.get(path).headers["location"] == "/room", "as a bookmark, too"
    come(desk, path_of(desk))


@pytest.mark.slow
def test_a_link_is_too_old_after_a_month_and_who_came_in_stays(desk: Desk) -> None:
    path = path_of(desk)
    browser = come(desk, path)
    change(desk, opens_until=datetime.now(UTC) - timedelta(seconds=1))
    assert desk.visitor().get(path).status_code == 403
    assert desk.visitor().post(path).status_code == 403
    assert browser.get("/week").status_code == 200
    assert timedelta(days=30) == OPENS_FOR


@pytest.mark.slow
def test_a_teacher_makes_a_new_link_and_the_one_before_opens_nothing(desk: Desk) -> None:
    teacher, old = desk.teacher(), path_of(desk)
    browser = come(desk, old)
    calendar = re.findall(r"/calendar/[\w-]+\.ics", browser.get("/week").text)[0]
    assert teacher.post("/invitations/1/anew").headers["location"] == "/students/1"
    new = path_of(desk)
    assert new != old
    assert desk.visitor().get(old).status_code == 403
    come(desk, new)
    assert browser.get("/week").status_code == 200, "who was in stays in"
    assert desk.visitor().get(calendar).status_code == 200


@pytest.mark.slow
def test_a_withdrawn_link_ends_its_player_s_devices(desk: Desk) -> None:
    path = path_of(desk)
    browser = come(desk, path)
    assert desk.teacher().post("/invitations/1/withdraw").headers["location"] == "/students/1"
    assert browser.get("/week").status_code == 403
    assert desk.visitor().get(path).status_code == 403


@pytest.mark.slow
def test_a_teacher_sees_devices_and_ends_one(desk: Desk) -> None:
    path = path_of(desk)
    first, second = come(desk, path), come(desk, path)
    teacher = desk.teacher()
    text = teacher.get("/students/1").text
    assert text.count("Firefox on Android") == 2
    assert "Opens on 1 more device, until" in text
    ways = re.findall(r"/students/1/devices/\d+/end", text)
    assert len(ways) == 2
    assert teacher.post(ways[-1].replace("/students/1/", "/students/2/")).status_code == 404
    assert teacher.post(ways[-1]).headers["location"] == "/students/1#door"
    assert (first.get("/week").status_code, second.get("/week").status_code) == (403, 200)
    assert teacher.post(ways[-1]).status_code == 404


@pytest.mark.slow
def test_a_player_has_a_device_forget(desk: Desk) -> None:
    browser = come(desk, path_of(desk))
    word = browser.cookies[COOKIE]
    assert "Forget me here" in browser.get("/kept").text
    assert browser.post("/out").headers["location"] == "/"
    assert desk.visitor(word).get("/week").status_code == 403


@pytest.mark.slow
def test_who_comes_by_a_class_s_link_is_known_and_its_link_ends_too(desk: Desk) -> None:
    with desk.school.writing() as connection:
        number = invite_class(connection, 1)
    path = f"/in/{link_word(desk.secret, number)}"
    browser = come(desk, path, name="Corin")
    assert browser.get("/week").status_code == 200
    assert "Opens on 2 more devices" in desk.teacher().get("/students/2").text
    change(desk, opens_until=datetime.now(UTC) - timedelta(seconds=1))
    assert desk.visitor().get(path).status_code == 403
    desk.teacher().post("/classes/1/door")
    assert desk.visitor().get(path).status_code == 403, "it is another link now"


@pytest.mark.slow
def test_a_browser_that_is_known_by_its_link_s_word_goes_on_and_gets_its_own(desk: Desk) -> None:
    """So it was before there were devices; for a while, and for those links alone."""
    word = path_of(desk).removeprefix("/in/")
    assert desk.visitor(word).get("/week").status_code == 403, "a link of today lets nobody in so"
    change(desk, known_until=datetime.now(UTC) + timedelta(days=1))
    browser = desk.visitor(word)
    assert browser.get("/room/recordings/x").status_code != 403
    assert COOKIE not in browser.get("/week").cookies, "a page's own requests change nothing"
    answer = browser.get("/week", headers=PAGE)
    assert answer.cookies[COOKIE].startswith(DEVICE_MARK)
    assert desk.visitor(answer.cookies[COOKIE]).get("/week").status_code == 200
    change(desk, known_until=datetime.now(UTC) - timedelta(days=1))
    assert desk.visitor(word).get("/week").status_code == 403
    assert desk.visitor(answer.cookies[COOKIE]).get("/week").status_code == 200


@pytest.mark.parametrize(
    ("begun", "seen"),
    [(DEVICE_IDLE + timedelta(hours=1),) * 2, (DEVICE_LONGEST + timedelta(hours=1), timedelta())],
)
def test_a_device_is_forgotten_by_itself(desk: Desk, begun: timedelta, seen: timedelta) -> None:
    word, now = desk.players_word("Ansel"), datetime.now(UTC)
    with desk.school.writing() as connection:
        values = {"begun_at": now - begun, "seen_at": now - seen}
        connection.execute(update(tables.devices).values(**values))
        assert device_of(connection, word) is None
        assert devices_of(connection, 1) == ()
        forget_past_devices(connection)
        assert connection.execute(tables.devices.select()).first() is None


def test_when_a_device_was_seen_is_kept_by_the_hour(desk: Desk) -> None:
    word, now = desk.players_word("Ansel"), datetime.now(UTC)
    with desk.school.writing() as connection:
        connection.execute(update(tables.devices).values(seen_at=now - timedelta(hours=2)))
    desk.visitor(word).get("/week")
    with desk.school.reading() as connection:
        (device,) = devices_of(connection, 1)
    assert now - device.seen_at < timedelta(minutes=1)


def test_two_devices_at_once_count_each(desk: Desk) -> None:
    with desk.school.writing() as connection:
        number = invite_student(connection, "Ansel")
        make_anew(connection, number)
        link = standing_invitation(connection, number)
        assert (link.round, link.left, link.is_open) == (1, MOST_OPENED, True)
        withdraw(connection, number)
        for fails in (
            lambda: make_anew(connection, number),
            lambda: withdraw(connection, number),
            lambda: end_device(connection, 1, 1),
        ):
            with pytest.raises(NoSuchThing):
                fails()
