"""Is every answer guarded, and what comes from elsewhere refused?

The names of the headers are those of Fetch Metadata (W3C), CSP level 3 (W3C) and Permissions
Policy (W3C).
"""

from __future__ import annotations

import re

import pytest
from desks import Desk
from starlette.testclient import TestClient

from halfstep.app.web.site import desk_site
from halfstep.errors import StoreError


@pytest.mark.parametrize("path", ["/", "/desk", "/none", "/static/desk.css"])
def test_every_answer_says_what_may_be_loaded(desk: Desk, path: str) -> None:
    headers = desk.visitor().get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "microphone=(self)" in headers["permissions-policy"]
    for part in ("base-uri 'none'", "frame-ancestors 'none'", "form-action 'self'"):
        assert part in headers["content-security-policy"]
    assert headers["cross-origin-opener-policy"] == "same-origin"
    assert headers["cross-origin-resource-policy"] == "same-origin"
    assert "access-control-allow-origin" not in headers
    assert path.startswith("/static") or headers["cache-control"] == "no-store"


@pytest.mark.parametrize(
    ("headers", "status"),
    [
        ({"sec-fetch-site": "cross-site"}, 403),
        ({"sec-fetch-site": "same-site"}, 403),
        ({"origin": "http://elsewhere.example"}, 403),
        ({"origin": "null"}, 403),
        ({"origin": "http://localhost:8765"}, 303),
        ({"sec-fetch-site": "same-origin"}, 303),
        ({}, 303),
        ({"host": "elsewhere.example"}, 400),
    ],
)
def test_what_another_site_sends_is_refused(
    desk: Desk, headers: dict[str, str], status: int
) -> None:
    assert desk.teacher().post("/out", headers=headers).status_code == status


def test_no_page_has_a_script_or_a_style_inside(desk: Desk) -> None:
    for path in ("/", "/desk"):
        text = desk.teacher().get(path).text
        assert not re.search(r"<style|style=|\son\w+=|<script(?![^>]+src=)", text)


def test_what_is_loaded_lasts_only_under_its_digest(desk: Desk) -> None:
    text = desk.visitor().get("/").text
    address = re.findall(r'href="(/static/desk.css\?[0-9a-f]{12})"', text)[0]
    assert "immutable" in desk.visitor().get(address).headers["cache-control"]
    assert desk.visitor().get("/static/desk.css").headers["cache-control"] == "no-cache"


def test_an_unknown_page_is_one_line(desk: Desk) -> None:
    answer = desk.visitor().get("/none")
    assert answer.status_code == 404
    assert "there is no such page" in answer.text


@pytest.mark.parametrize("names_length", [True, False])
def test_what_is_too_large_is_one_line_on_a_page(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, names_length: bool
) -> None:
    monkeypatch.setattr("halfstep.app.web.guard.MOST_BYTES", 3_000_000)
    head = b'--x\r\nContent-Disposition: form-data; name="take"; filename="a.wav"\r\n\r\n'
    body = head + bytes(5_000_000)
    kind = {"content-type": "multipart/form-data; boundary=x"}
    content = body if names_length else iter((body,))
    answer = desk.student("Ansel").post("/week/1/take", content=content, headers=kind)
    assert answer.status_code == 413
    assert "this is too large; send 3 MB or less" in answer.text
    assert answer.headers["content-type"].startswith("text/html")


@pytest.mark.parametrize(
    ("host", "status"),
    [
        ("lessons.example", 200),
        ("Lessons.Example:8765", 200),
        ("room.school.example", 200),
        ("school.example", 400),
        ("a.room.school.example", 400),
        ("elsewhere.example", 400),
    ],
)
def test_the_names_of_a_certificate_are_ours(desk: Desk, host: str, status: int) -> None:
    """An asterisk stands for one word (RFC 6125, 6.4.3)."""
    site = desk_site(desk.school, names=("lessons.example", "*.school.example"))
    assert TestClient(site).get("/", headers={"host": host}).status_code == status


@pytest.mark.parametrize(
    ("address", "is_lasting"),
    [
        ("https://lessons.example", True),
        ("https://lessons.example:8443", True),
        ("http://lessons.example", False),
        ("https://localhost:8765", False),
        ("https://192.0.2.9", False),
    ],
)
def test_a_name_that_was_given_with_its_certificate_is_come_to_by_tls_alone(
    desk: Desk, address: str, is_lasting: bool
) -> None:
    """RFC 6797, 6.1; at a number, and at a name of this machine for itself, it would do harm."""
    site = desk_site(desk.school, names=("lessons.example",))
    headers = TestClient(site, address).get("/").headers
    assert headers.get("strict-transport-security", "") == "max-age=31536000" * is_lasting


LEADING_OUT = (
    "//elsewhere.example",
    "/\\elsewhere.example",
    "https://elsewhere.example/",
    "%2F%2Felsewhere.example",
)


@pytest.mark.parametrize("path", LEADING_OUT)
def test_no_address_leads_out_of_the_site(desk: Desk, path: str) -> None:
    """Whatever a path, a query or a form asks for, where it leads begins with our own `/`."""
    ways = ("next", "url", "to", "return", "redirect", "from")
    for browser in (desk.visitor(), desk.teacher(), desk.student("Ansel")):
        asked = dict.fromkeys(ways, path)
        answers = [browser.get("/", params=asked), browser.post("/out", data=asked, params=asked)]
        answers.append(browser.get(f"/{path}"))
        for answer in answers:
            where = answer.headers.get("location", "/")
            assert where.startswith("/")
            assert not where.startswith(("//", "/\\"))


@pytest.mark.parametrize("method", ["TRACE", "CONNECT", "PATCH", "PUT"])
def test_what_no_address_knows_is_not_done(desk: Desk, method: str) -> None:
    """RFC 9110, 9.3.8: a trace would give back what else a browser keeps to itself."""
    answer = desk.teacher().request(method, "/desk", headers={"x-secret": "word"})
    assert answer.status_code == 405
    assert "word" not in answer.text


def test_a_fault_of_the_program_tells_nothing_of_it(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    def broken(_: object) -> None:
        raise ValueError("/srv/school holds a secret")

    monkeypatch.setattr("halfstep.app.web.health_routes.count_students", broken)
    client = TestClient(desk_site(desk.school), "http://localhost", raise_server_exceptions=False)
    for headers in ({}, {"accept": "application/json"}):
        answer = client.get("/ready", headers=headers)
        assert answer.status_code == 500
        assert "a fault of the program" in answer.text
        for word in ("secret", "Traceback", "srv", ".py"):
            assert word not in answer.text


@pytest.mark.parametrize(
    "path", ["/static/", "/static", "/static/../pages/base.html", "/sheets/1/"]
)
def test_a_folder_is_no_page(desk: Desk, path: str) -> None:
    answer = desk.teacher().get(path, follow_redirects=True)
    assert answer.status_code == 404
    assert "desk.css" not in re.sub(r"<link[^>]*>", "", answer.text)


def test_who_cannot_be_looked_up_is_let_in_nowhere(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What fails while it is asked who comes, or what is allowed, is no yes."""

    def away(*_: object) -> None:
        raise StoreError("the database is away")

    for name in ("visit.visitor_of", "visit.demand"):
        with monkeypatch.context() as broken:
            broken.setattr(f"halfstep.app.web.{name}", away)
            for path in ("/desk", "/charts", "/classes/1"):
                answer = desk.teacher().get(path)
                assert answer.status_code >= 500
                assert "Room Twelve" not in answer.text
