"""Does the door let in who has a link, and nobody else?"""

from __future__ import annotations

import pytest
from desks import Desk

from halfstep.app.web.visit import COOKIE
from halfstep.school.invitations import desk_word, invite_class, link_word


def test_a_stranger_sees_the_door(desk: Desk) -> None:
    answer = desk.visitor().get("/")
    assert answer.status_code == 200
    assert "Open the link that your teacher gave you" in answer.text


def test_the_printed_address_opens_the_desk(desk: Desk) -> None:
    browser = desk.visitor()
    answer = browser.get(f"/in/{desk_word(desk.secret)}")
    assert (answer.status_code, answer.headers["location"]) == (303, "/desk")
    assert browser.get("/desk").status_code == 200


@pytest.mark.parametrize("word", ["", "desk-", f"desk-{'a' * 26}", "1-x", "0-", "-", "9" * 12])
def test_a_guessed_word_opens_nothing(desk: Desk, word: str) -> None:
    assert desk.visitor(word).get("/desk").status_code == 403


def test_a_name_of_a_class_is_taken_once(desk: Desk) -> None:
    with desk.school.writing() as connection:
        word = link_word(desk.secret, invite_class(connection, 1))
    first, second = desk.visitor(), desk.visitor()
    assert "Corin" in first.get(f"/in/{word}").text
    assert first.post(f"/in/{word}", data={"name": "Corin"}).headers["location"] == "/room"
    assert "Corin" not in second.get(f"/in/{word}").text
    assert second.post(f"/in/{word}", data={"name": "Corin"}).status_code == 403


def test_a_student_has_no_desk(desk: Desk) -> None:
    answer = desk.student("Dilys").get("/desk")
    assert answer.status_code == 403
    assert "the teacher&#39;s desk" in answer.text


def test_who_goes_out_is_a_stranger(desk: Desk) -> None:
    answer = desk.teacher().post("/out")
    assert f'{COOKIE}=""; expires=' in answer.headers["set-cookie"]
    assert answer.headers["location"] == "/"
    assert answer.headers["clear-site-data"] == '"cache"', "takes not sent yet stay"


def test_the_cookie_is_for_this_site_alone(desk: Desk) -> None:
    """RFC 6265bis, 4.1.2: no script reads it, no other site sends it, no other host gets it."""
    cookie = desk.visitor().get(f"/in/{desk_word(desk.secret)}").headers["set-cookie"].lower()
    assert "; httponly" in cookie
    assert "; samesite=lax" in cookie
    assert "domain=" not in cookie
