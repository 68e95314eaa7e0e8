"""Do phones come in by a door of their own, with TLS, while the teacher wants it?"""

from __future__ import annotations

import hashlib
import re
import socket
import ssl
from collections.abc import Iterator

import httpx2
import pytest
from desks import Desk
from starlette.testclient import TestClient

from halfstep.app.web.addresses import is_loopback, lets_others_in, machine_names, shown_host
from halfstep.app.web.phone_door import OpenDoor, PhoneDoor
from halfstep.app.web.site import desk_site
from halfstep.app.web.visit import COOKIE, SECURE_COOKIE
from halfstep.school.invitations import desk_word, invite_class, link_word


def teacher(desk: Desk, phones: PhoneDoor | None = None) -> TestClient:
    site = desk_site(desk.school, phones=phones)
    cookies = {COOKIE: desk_word(desk.secret)}
    return TestClient(site, "http://localhost:8765", cookies=cookies, follow_redirects=False)


def shown_door(client: TestClient) -> str:
    """Where the desk says that phones come in."""
    (address,) = re.findall(r"at <strong>(\S+)</strong>", client.get("/desk").text)
    return str(address)


@pytest.fixture
def desk_with_door(desk: Desk) -> Iterator[TestClient]:
    pytest.importorskip("cryptography", reason="the optional group of pages is not installed")
    client = teacher(desk)
    assert client.post("/phones/open").status_code == 303
    yield client
    client.post("/phones/close")


@pytest.mark.slow
def test_a_phone_comes_in_by_tls_and_is_known_again(desk: Desk, desk_with_door: TestClient) -> None:
    port = shown_door(desk_with_door).rpartition(":")[2]
    trusts = ssl.create_default_context(cafile=desk.school.folder / "tls.pem")
    with desk.school.writing() as connection:
        word = link_word(desk.secret, invite_class(connection, 1))
    with httpx2.Client(base_url=f"https://127.0.0.1:{port}", verify=trusts) as phone:
        assert phone.get("/").status_code == 200
        answer = phone.post(f"/in/{word}", data={"name": "Ansel"})
        assert answer.headers["location"] == "/room"
        assert answer.headers["set-cookie"].startswith(f"{SECURE_COOKIE}=")
        assert "; Secure" in answer.headers["set-cookie"]
        assert phone.get("/week").status_code == 200


def test_the_desk_tells_its_owner_of_the_warning_and_how_to_be_sure(
    desk_with_door: TestClient,
) -> None:
    text = desk_with_door.get("/desk").text
    assert "It is right: this computer made its certificate itself" in text
    (fingerprint,) = re.findall(r'fingerprint">([0-9A-F:]+)<', text)
    port = int(shown_door(desk_with_door).rpartition(":")[2])
    assert fingerprint == _fingerprint_met(port)


def _fingerprint_met(port: int) -> str:
    """As a phone's browser shows it."""
    met = ssl.get_server_certificate(("127.0.0.1", port))
    return hashlib.sha256(ssl.PEM_cert_to_DER_cert(met)).digest().hex(":").upper()


@pytest.mark.slow
def test_links_lead_phones_to_their_door_and_back_when_it_is_closed(
    desk_with_door: TestClient,
) -> None:
    address = shown_door(desk_with_door)
    desk_with_door.post("/classes/1/door")
    page = desk_with_door.get("/classes/1").text
    assert f'value="{address}/in/' in page
    assert "cannot come in yet" not in page
    desk_with_door.post("/phones/close")
    page = desk_with_door.get("/classes/1").text
    assert 'value="http://localhost:8765/in/' in page
    assert "cannot come in yet" in page


def test_a_door_that_is_open_is_not_opened_twice(desk_with_door: TestClient) -> None:
    address = shown_door(desk_with_door)
    desk_with_door.post("/phones/open")
    assert shown_door(desk_with_door) == address


@pytest.mark.slow
def test_a_closed_door_takes_nobody_in_and_opens_again(desk: Desk) -> None:
    pytest.importorskip("cryptography", reason="the optional group of pages is not installed")
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    client = teacher(desk, PhoneDoor(desk.school.folder, port))
    for _ in range(2):
        client.post("/phones/open")
        socket.create_connection(("127.0.0.1", port), timeout=5).close()
        client.post("/phones/close")
        with pytest.raises(OSError, match="refused"):
            socket.create_connection(("127.0.0.1", port), timeout=5)


def test_a_door_that_cannot_be_opened_is_one_line(desk: Desk) -> None:
    pytest.importorskip("cryptography", reason="the optional group of pages is not installed")
    with socket.create_server(("0.0.0.0", 0)) as taken:
        port = taken.getsockname()[1]
        answer = teacher(desk, PhoneDoor(desk.school.folder, port)).post("/phones/open")
    assert answer.status_code == 422
    assert f"port {port} at 0.0.0.0: " in answer.text
    assert "Let phones in" in answer.text


def test_nobody_but_the_teacher_opens_or_closes_it(desk: Desk) -> None:
    for path in ("/phones/open", "/phones/close"):
        assert desk.student("Ansel").post(path).status_code == 403
        assert desk.visitor().post(path).status_code == 403


def test_a_desk_that_others_reach_without_tls_offers_a_door_with_it(desk: Desk) -> None:
    always = OpenDoor("http://192.0.2.7:8765")
    client = teacher(desk, PhoneDoor(desk.school.folder, always=always))
    text = client.get("/desk").text
    assert "their browsers give them no microphone" in text
    assert "Let phones in with a microphone" in text


@pytest.mark.parametrize(
    ("host", "is_own"),
    [
        ("127.0.0.1", True),
        ("127.9.9.9", True),
        ("::1", True),
        ("[::1]", True),
        ("localhost", True),
        ("desk.localhost", True),
        ("0.0.0.0", False),
        ("::", False),
        ("192.0.2.7", False),
        ("127.0.0.1.example", False),
        ("lessons.example", False),
    ],
)
def test_who_comes_to_this_machine_alone(host: str, is_own: bool) -> None:
    """Loopback is RFC 1122 and RFC 4291; names below ``localhost`` are RFC 6761."""
    assert is_loopback(host) is is_own
    assert lets_others_in(host) is not is_own


def test_the_names_of_this_machine_are_those_that_it_is_called_by() -> None:
    assert {"localhost", "127.0.0.1", "::1"} <= machine_names()
    assert "lessons.example" in machine_names("lessons.example")
    assert not {"", "0.0.0.0", "::"} & machine_names("0.0.0.0")
    assert shown_host("2001:db8::1") == "[2001:db8::1]"
    assert shown_host("0.0.0.0") not in {"", "0.0.0.0"}
