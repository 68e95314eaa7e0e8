"""May people sign in, see where they are signed in, and let others in, on the pages?"""

from __future__ import annotations

import re
from datetime import UTC, datetime

import pyotp
import pytest
from argon2 import PasswordHasher
from desks import Desk
from starlette.testclient import TestClient

from halfstep.app.web.visit import COOKIE
from halfstep.school import passwords
from halfstep.school.attempts import MOST_OF_NAME
from halfstep.school.invitations import desk_word

GOOD, OTHER = "lamp stairs coat violet", "nine wet umbrellas dry"
FIREFOX = {"user-agent": "Mozilla/5.0 (X11; Linux x86_64; rv:128.0) Gecko/20100101 Firefox/128.0"}


@pytest.fixture(autouse=True)
def _little_work(monkeypatch: pytest.MonkeyPatch) -> None:
    hasher = PasswordHasher(time_cost=1, memory_cost=8, parallelism=1)
    monkeypatch.setattr(passwords, "_hasher", lambda: hasher)
    monkeypatch.setattr(passwords, "_NOBODYS", hasher.hash("nobody's"))


def link_in(text: str) -> str:
    found = re.search(r"/join/[\w-]+", text)
    assert found, text
    return found[0]


def told_at(text: str) -> list[str]:
    """The fields that a fault is told of."""
    return re.findall(r'id="([\w-]+)-fault"', text)


@pytest.fixture
def owned(desk: Desk) -> Desk:
    """A school whose owner has come."""
    made = desk.teacher().post("/people", data={"name": "Wilma", "role": "owner"})
    assert made.status_code == 200
    answer = desk.visitor().post(link_in(made.text), data={"password": GOOD})
    assert answer.headers["location"] == "/desk"
    return desk


def signed_in(desk: Desk, name: str = "Wilma", password: str = GOOD, **more: str) -> TestClient:
    browser = desk.visitor()
    answer = browser.post("/sign-in", data={"name": name, "password": password, **more})
    assert answer.status_code == 303, answer.text
    return browser


@pytest.mark.slow
def test_the_printed_address_opens_a_desk_and_no_school(owned: Desk) -> None:
    assert owned.teacher().get("/desk").status_code == 403
    with pytest.raises(AssertionError):
        signed_in(owned, password=OTHER)
    assert owned.visitor().get(f"/in/{desk_word(owned.secret)}").status_code == 403
    assert "Wilma" in signed_in(owned).get("/desk").text


@pytest.mark.slow
def test_a_desk_s_teacher_makes_an_owner_and_nobody_else(desk: Desk) -> None:
    for role in ("teacher", "guardian", "student", "king", ""):
        sent = {"name": "Otis", "role": role, "player": "1"}
        assert desk.teacher().post("/people", data=sent).status_code == 422
    assert "one teacher’s desk" in desk.teacher().get("/people").text


def test_a_wrong_password_is_said_beside_the_form_and_keeps_the_name(owned: Desk) -> None:
    browser = owned.visitor()
    answer = browser.post("/sign-in", data={"name": "Wilma", "password": OTHER})
    assert answer.status_code == 403
    assert 'value="Wilma"' in answer.text
    assert OTHER not in answer.text
    assert COOKIE not in browser.cookies


@pytest.mark.slow
def test_too_many_tries_wait_in_whatever_browser(owned: Desk) -> None:
    for _ in range(MOST_OF_NAME):
        owned.visitor().post("/sign-in", data={"name": "Wilma", "password": OTHER})
    answer = owned.visitor().post("/sign-in", data={"name": "Wilma", "password": GOOD})
    assert answer.status_code == 429
    assert "wait 15 minutes" in answer.text


def test_signing_in_gives_a_new_word_and_signing_out_ends_it(owned: Desk) -> None:
    """Nobody can have somebody sign in under a word that is known before."""
    browser = owned.visitor("session-known-before")
    answer = browser.post("/sign-in", data={"name": "Wilma", "password": GOOD})
    word = answer.cookies[COOKIE]
    assert word != "session-known-before"
    assert owned.visitor(word).get("/account").status_code == 200
    owned.visitor(word).post("/out")
    assert owned.visitor(word).get("/account").status_code == 403


def test_one_sees_where_one_is_signed_in_and_ends_it(owned: Desk) -> None:
    here, there = signed_in(owned), owned.visitor()
    there.post("/sign-in", data={"name": "Wilma", "password": GOOD}, headers=FIREFOX)
    text = here.get("/account").text
    assert "Firefox on Linux" in text
    (number,) = re.findall(r"Firefox on Linux.*?/account/sessions/(\d+)/end", text, re.DOTALL)
    assert here.post(f"/account/sessions/{number}/end").status_code == 303
    assert there.get("/account").status_code == 403
    assert here.post(f"/account/sessions/{number}/end").status_code == 404


@pytest.mark.slow
def test_codes_are_shown_tried_and_asked_for(owned: Desk) -> None:
    browser = signed_in(owned)
    text = browser.get("/account/codes").text
    secret = re.findall(r"<code>(\w+)</code>", text)[0]
    codes, now = pyotp.TOTP(secret), datetime.now(UTC).timestamp()
    asked = {"secret": secret, "password": GOOD}
    wrong = browser.post("/account/codes", data={**asked, "code": "12345"})
    assert wrong.status_code == 422
    assert secret in wrong.text, "the phone has it by now"
    sent = {**asked, "code": codes.at(now - 30)}
    other = browser.post("/account/codes", data={**sent, "password": OTHER})
    assert "not your password" in other.text
    assert browser.post("/account/codes", data=sent).status_code == 303
    refused = owned.visitor().post("/sign-in", data={"name": "Wilma", "password": GOOD})
    assert refused.status_code == 403
    signed_in(owned, code=codes.at(now + 30))
    refused = browser.post("/account/codes/end", data={"password": OTHER})
    assert refused.status_code == 422
    assert told_at(refused.text) == ["codes-password"]
    assert browser.post("/account/codes/end", data={"password": GOOD}).status_code == 303
    signed_in(owned)


def test_another_password_is_asked_for_with_the_old_one(owned: Desk) -> None:
    browser = signed_in(owned)
    for old, new in ((OTHER, OTHER), (GOOD, "short")):
        answer = browser.post("/account/password", data={"old": old, "password": new})
        assert answer.status_code == 422
        assert "Not yet" in answer.text
    assert browser.post("/account/password", data={"old": GOOD, "password": OTHER}).is_redirect
    assert browser.get("/account").status_code == 200
    signed_in(owned, password=OTHER)


@pytest.mark.slow
def test_an_owner_lets_in_a_teacher_and_reads_what_was_done(owned: Desk) -> None:
    wilma = signed_in(owned)
    made = wilma.post("/people", data={"name": "Otis", "role": "teacher"})
    otis = owned.visitor()
    path = link_in(made.text)
    assert "Otis: choose a password" in otis.get(path).text
    assert otis.post(path, data={"password": "Otis Otis"}).status_code == 422
    assert otis.post(path, data={"password": OTHER}).headers["location"] == "/desk"
    assert otis.get(path).status_code == 404
    assert otis.get("/people/log").status_code == 403
    log = wilma.get("/people/log").text
    for line in ("invited Otis", "chose a password", "signed in"):
        assert line in log
    number = re.findall(r"/people/(\d+)/end", wilma.get("/people").text)[0]
    assert otis.post("/people/1/end").status_code == 403
    assert wilma.post(f"/people/{number}/end").status_code == 303
    assert otis.get("/desk").status_code == 403


@pytest.mark.slow
def test_a_teacher_gives_a_new_link_to_a_guardian_who_sees_one_player(owned: Desk) -> None:
    wilma = signed_in(owned)
    sent = {"name": "Greta", "role": "guardian", "player": "1"}
    path = link_in(wilma.post("/people", data=sent).text)
    greta = owned.visitor()
    assert greta.post(path, data={"password": OTHER}).headers["location"] == "/wards"
    assert "Ansel" in greta.get("/wards").text
    assert "Corin" not in greta.get("/wards").text
    assert greta.get("/students/1/way.svg").status_code == 200
    assert greta.get("/students/2/way.svg").status_code == 404
    assert greta.get("/room").status_code == 403
    assert greta.get("/").headers["location"] == "/wards"
    number = re.findall(r"/people/(\d+)/link", wilma.get("/people").text)[0]
    again = link_in(wilma.post(f"/people/{number}/link").text)
    assert owned.visitor().post(again, data={"password": GOOD}).is_redirect
    assert greta.get("/wards").status_code == 403, "the new password signs out the old one"


@pytest.mark.slow
def test_a_player_with_a_password_practises(owned: Desk) -> None:
    sent = {"name": "Ansel", "role": "student", "player": "1"}
    path = link_in(signed_in(owned).post("/people", data=sent).text)
    ansel = owned.visitor()
    assert ansel.post(path, data={"password": OTHER}).headers["location"] == "/room"
    assert ansel.get("/week").status_code == 200
    assert ansel.get("/students/2/way.svg").status_code == 404


def test_a_form_of_another_site_signs_nobody_in(owned: Desk) -> None:
    headers = {"sec-fetch-site": "cross-site"}
    sent = {"name": "Wilma", "password": GOOD}
    assert owned.visitor().post("/sign-in", data=sent, headers=headers).status_code == 403


@pytest.mark.slow
def test_a_name_is_free_again_when_its_account_has_ended(owned: Desk) -> None:
    wilma = signed_in(owned)
    otis = {"name": "Otis", "role": "teacher"}
    ansel = {"name": "Ansel", "role": "student", "player": "1"}
    for sent in (otis, ansel):
        assert wilma.post("/people", data=sent).status_code == 200
        assert wilma.post("/people", data=sent).status_code == 422
    for _ in range(2):
        numbers = re.findall(r"/people/(\d+)/end", wilma.get("/people").text)
        for number in set(numbers) - {"1"}:
            assert wilma.post(f"/people/{number}/end").is_redirect
        assert "Otis" not in wilma.get("/people/log").text
        for sent in (otis, ansel):
            assert wilma.post("/people", data=sent).status_code == 200


@pytest.mark.slow
def test_a_password_is_hidden_and_may_come_from_a_keeper_of_passwords(owned: Desk) -> None:
    """HTML, 4.10.18.7: the words by which a browser knows which field is which."""
    wilma = signed_in(owned)
    sent = {"name": "Otis", "role": "teacher"}
    join = link_in(wilma.post("/people", data=sent).text)
    for path, count in (("/sign-in", 1), ("/account", 2), ("/account/codes", 1), (join, 1)):
        fields = re.findall(r'<input[^>]*name="(?:old|password)"[^>]*>', wilma.get(path).text)
        assert len(fields) == count
        for field in fields:
            assert 'type="password"' in field
            assert re.search(r'autocomplete="(current|new)-password"', field)
