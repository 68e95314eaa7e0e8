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


@pytest.mark.parametrize("path", ["/", "/desk", "/none", "/static/desk.css"])
def test_every_answer_says_what_may_be_loaded(desk: Desk, path: str) -> None:
    headers = desk.visitor().get(path).headers
    assert "default-src 'none'" in headers["content-security-policy"]
    assert "unsafe" not in headers["content-security-policy"]
    assert headers["x-content-type-options"] == "nosniff"
    assert headers["referrer-policy"] == "no-referrer"
    assert "microphone=(self)" in headers["permissions-policy"]


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
