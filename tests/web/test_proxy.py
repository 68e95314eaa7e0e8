"""Is a proxy believed, and nobody else?

`X-Forwarded-Proto` and `X-Forwarded-Host` are common practice; networks are RFC 4632 and RFC 4291.
"""

from __future__ import annotations

import re

import pytest
from desks import Desk
from starlette.testclient import TestClient

from halfstep.app.tasks.account_tasks import SignIn
from halfstep.app.web.proxy import THIS_MACHINE, Proxy, read_proxy
from halfstep.app.web.site import desk_site
from halfstep.app.web.visit import COOKIE, SECURE_COOKIE
from halfstep.errors import BriefError, NotAllowed
from halfstep.school.invitations import desk_word

ADDRESS = "https://lessons.example"
BY_PROXY = {"x-forwarded-proto": "https", "host": "lessons.example"}


def browser(desk: Desk, proxy: Proxy | None, *, at: str = "127.0.0.1") -> TestClient:
    """Who asks, as the server sees it: from an address, by a plain connection."""
    site = desk_site(desk.school, proxy=proxy)
    client = (at, 50000)
    return TestClient(site, "http://127.0.0.1:8765", client=client, follow_redirects=False)


def come_in(desk: Desk, client: TestClient, headers: dict[str, str]) -> str:
    """The cookie of a teacher who comes in."""
    answer = client.get(f"/in/{desk_word(desk.secret)}", headers=headers)
    return answer.headers.get("set-cookie", "")


def test_what_came_to_the_proxy_by_tls_is_kept_by_tls(desk: Desk) -> None:
    cookie = come_in(desk, browser(desk, THIS_MACHINE), BY_PROXY)
    assert cookie.startswith(f"{SECURE_COOKIE}=")
    assert "; Secure" in cookie
    assert "Path=/;" in cookie
    assert "Domain" not in cookie


def test_without_a_proxy_nobody_is_believed(desk: Desk) -> None:
    client = browser(desk, None)
    assert client.get("/", headers=BY_PROXY).status_code == 400, "no name of this machine"
    cookie = come_in(desk, client, {"x-forwarded-proto": "https"})
    assert cookie.startswith(f"{COOKIE}=")
    assert "Secure" not in cookie


def test_who_comes_from_elsewhere_is_not_believed(desk: Desk) -> None:
    client = browser(desk, THIS_MACHINE, at="192.0.2.66")
    assert client.get("/", headers=BY_PROXY).status_code == 400
    assert come_in(desk, client, {"x-forwarded-proto": "https"}).startswith(f"{COOKIE}=")


@pytest.mark.parametrize(
    ("headers", "address"),
    [
        (BY_PROXY, "https://lessons.example"),
        ({"x-forwarded-proto": "https", "x-forwarded-host": "lessons.example"}, ADDRESS),
        ({"x-forwarded-proto": "http, https", "x-forwarded-host": "a, lessons.example"}, ADDRESS),
        ({"host": "lessons.example"}, "http://lessons.example"),
        ({"x-forwarded-proto": "gopher", "host": "lessons.example"}, "http://lessons.example"),
    ],
)
def test_links_lead_to_the_address_of_the_proxy(
    desk: Desk, headers: dict[str, str], address: str
) -> None:
    client = browser(desk, THIS_MACHINE)
    for name in (COOKIE, SECURE_COOKIE):
        client.cookies.set(name, desk_word(desk.secret))
    text = client.get("/desk", headers=headers).text
    assert re.findall(r'value="(\S+)/calendar/', text) == [address]


def test_a_form_of_its_pages_is_taken_and_one_from_elsewhere_is_not(desk: Desk) -> None:
    client = browser(desk, THIS_MACHINE)
    for origin, status in ((ADDRESS, 303), ("https://elsewhere.example", 403)):
        assert client.post("/out", headers=BY_PROXY | {"origin": origin}).status_code == status


@pytest.mark.parametrize(
    ("text", "address", "is_proxy"),
    [
        ("192.0.2.4", "192.0.2.4", True),
        ("192.0.2.4", "192.0.2.5", False),
        ("192.0.2.4", "::ffff:192.0.2.4", True),
        ("172.18.0.0/16", "172.18.255.1", True),
        ("172.18.0.0/16", "172.19.0.1", False),
        ("2001:db8::/32", "2001:db8::9", True),
        ("2001:db8::/32", "192.0.2.4", False),
    ],
)
def test_the_proxy_is_known_by_its_address(text: str, address: str, is_proxy: bool) -> None:
    assert read_proxy(text).passes_on({"client": (address, 1)}) is is_proxy


@pytest.mark.parametrize("client", [None, ("", 0), ("a socket", 0)])
def test_who_has_no_address_is_no_proxy(client: object) -> None:
    assert not THIS_MACHINE.passes_on({"client": client})


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("lessons.example", "give the proxy's address, such as 192.0.2.4"),
        ("192.0.2.4/16", "or its network, such as 172.18.0.0/16"),
        ("*", "give the proxy's address"),
        ("0.0.0.0/0", "everybody would be believed; name the proxy"),
        ("::/0", "everybody would be believed"),
    ],
)
def test_a_proxy_that_is_none_is_one_line(text: str, fault: str) -> None:
    with pytest.raises(BriefError, match=re.escape(fault)):
        read_proxy(text)


@pytest.mark.parametrize(
    ("forwarded", "at", "seen"),
    [
        ("192.0.2.7", "127.0.0.1", "192.0.2.7"),
        ("203.0.113.9, 192.0.2.7", "127.0.0.1", "192.0.2.7"),
        ("2001:db8::7", "127.0.0.1", "2001:db8::7"),
        ("nowhere", "127.0.0.1", "127.0.0.1"),
        ("192.0.2.7", "192.0.2.66", "192.0.2.66"),
    ],
)
def test_failed_tries_are_counted_by_where_the_proxy_says_they_come_from(
    desk: Desk, monkeypatch: pytest.MonkeyPatch, forwarded: str, at: str, seen: str
) -> None:
    """Else one who guesses behind a proxy would have everybody behind it wait."""
    asked: list[str] = []

    def refused(_: object, __: object, one: SignIn) -> str:
        asked.append(one.address)
        raise NotAllowed("no")

    monkeypatch.setattr("halfstep.app.web.account_routes.sign_in", refused)
    headers = {"x-forwarded-for": forwarded}
    browser(desk, THIS_MACHINE, at=at).post("/sign-in", data={"name": "x"}, headers=headers)
    assert asked == [seen]
