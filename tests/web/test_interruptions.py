"""What does the room do where it is not trusted, and where a phone takes the sound or the light?

The names are those of Secure Contexts, Screen Wake Lock, Audio Session and Web Audio (W3C); a
phone's own part in it is stood in for here, and `docs/phone-checklist.md` says what a person does.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import pytest
from browsers import PHONE, RealSite, real_site
from desks import PLAYERS, empty_desk, fill_class
from playwright.sync_api import Page, expect

pytestmark = pytest.mark.slow

STAND_INS = """
  window.told = [];
  const lock = () => Object.assign(new EventTarget(), {
    released: false, async release() { this.released = true; told.push("light let go"); } });
  Object.defineProperty(navigator, "wakeLock", { value: {
    async request(kind) { told.push(`${kind} kept on`); return lock(); } } });
  Object.defineProperty(navigator, "audioSession", { value: { type: "auto" } });
"""
A_ROOM = """async () => {
  const { furnish } = await import("/static/interruptions.js");
  window.room = Object.assign(new EventTarget(), {
    isBusy: false,
    async stop() { told.push("stopped"); },
    say(line) { told.push(line); },
    tell(name, detail) { this.dispatchEvent(new CustomEvent(name, { detail })); } });
  window.context = Object.assign(new EventTarget(), { state: "suspended",
    becomes(state) { this.state = state; this.dispatchEvent(new Event("statechange")); } });
  furnish(room);
  room.tell("clock", { context });
}"""
BREATH = "() => new Promise((settled) => setTimeout(settled, 0))"


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    with empty_desk(tmp_path_factory.mktemp("room") / "data") as desk:
        fill_class(desk, PLAYERS[:1])
        with real_site(desk, name="lessons.example") as made:
            yield made


@pytest.fixture
def page(site: RealSite) -> Iterator[Page]:
    """A page that has a room, and a phone's own parts stood in for."""
    made = site.page()
    made.add_init_script(STAND_INS)
    made.goto("/")
    made.evaluate(A_ROOM)
    yield made
    made.context.close()


def told(page: Page) -> list[str]:
    page.evaluate(BREATH)
    lines: list[str] = page.evaluate("told.splice(0)")
    return lines


def test_a_page_without_tls_says_what_is_missing_and_who_mends_it(site: RealSite) -> None:
    phone = site.student("Ansel", size=PHONE)
    phone.goto("/room")
    assert phone.evaluate("isSecureContext") is False
    expect(phone.locator("#insecure")).to_contain_text("the browser gives it no microphone")
    expect(phone.locator("#insecure")).to_contain_text("Your teacher mends it at the desk")
    phone.context.close()


def test_a_page_that_is_trusted_says_nothing_of_it(site: RealSite) -> None:
    """As one by TLS is, or one of the device itself."""
    trusted = replace(site, address=site.address.replace("lessons.example", "localhost"))
    phone = trusted.student("Ansel", size=PHONE)
    phone.goto("/room")
    assert phone.evaluate("isSecureContext") is True
    expect(phone.locator("#insecure")).to_be_hidden()
    phone.context.close()


def test_the_screen_stays_on_while_something_sounds(page: Page) -> None:
    page.evaluate("room.tell('playing', {})")
    assert told(page) == ["screen kept on"]
    page.evaluate("room.tell('recording', {})")
    assert told(page) == [], "it is on already"
    page.evaluate("room.tell('stopped', {})")
    assert told(page) == ["light let go"]
    page.evaluate("room.tell('playing', {})")
    assert told(page) == ["screen kept on"]


def test_the_switch_for_silence_does_not_mute_until_a_microphone_is_asked_for(page: Page) -> None:
    """A browser gives no microphone to a page that only plays."""
    assert page.evaluate("navigator.audioSession.type") == "playback"
    page.evaluate("room.tell('opening', {})")
    assert page.evaluate("navigator.audioSession.type") == "play-and-record"


@pytest.mark.parametrize("state", ["interrupted", "suspended"])
def test_sound_that_is_taken_stops_the_room_in_one_sentence(page: Page, state: str) -> None:
    page.evaluate("room.isBusy = true")
    page.evaluate("context.becomes('running')")
    assert told(page) == []
    page.evaluate(f"context.becomes('{state}')")
    stopped, line = told(page)
    assert stopped == "stopped"
    assert line.endswith("Press Play to go on.")


def test_sound_that_is_taken_while_nothing_plays_stops_nothing(page: Page) -> None:
    page.evaluate("context.becomes('running')")
    page.evaluate("context.becomes('interrupted')")
    assert told(page) == []
