"""Does a visit of the practice room keep its clock and its microphone from piece to piece?

A microphone that is connected anew is late by another time, so a visit opens one; how late it is in
truth, `bench/loopback.py --items` measures.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import pytest
from browsers import MICROPHONE, PHONE, RealSite, grave_faults, overflow_px, real_site
from desks import new_desk
from playwright.sync_api import Locator, Page, Request, Route, expect

from halfstep.data.about_json import TakeAbout, read_about
from halfstep.school.sent_takes import sent_takes_of

pytestmark = pytest.mark.slow
DAY = f"/room/days/{date.today().isoformat()}"
CUT = "The program does not answer, and nothing has changed here."
COUNTED = """
  window.made = { clocks: 0, microphones: 0 };
  window.AudioContext = class extends AudioContext {
    constructor(...options) { super(...options); made.clocks++; }
  };
  const media = navigator.mediaDevices;
  const real = media.getUserMedia.bind(media);
  media.getUserMedia = (what) => { made.microphones++; return real(what); };
"""
HALF_LOADED = """() => {
  const real = fetch;
  window.fetch = () => {
    window.fetch = real;
    const pull = (half) => { half.enqueue(new Uint8Array(99)); half.error(new TypeError("cut")); };
    return Promise.resolve(new Response(new ReadableStream({ pull })));
  };
}"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    folder = tmp_path_factory.mktemp("room") / "data"
    with new_desk(folder) as desk, real_site(desk, flags=MICROPHONE) as site:
        yield site


@pytest.fixture
def page(site: RealSite) -> Iterator[Page]:
    """The first piece of a player's day on a phone, where something was played already."""
    page = site.student("Ansel", size=PHONE)
    page.add_init_script(COUNTED)
    page.goto(item(1))
    site.trouble.clear()
    play(page)
    yield page
    page.context.close()


def item(number: int) -> str:
    return f"{DAY}/items/{number}"


def play(page: Page) -> None:
    """Play and stop, which begins a visit."""
    press = page.locator("[data-play]")
    with page.expect_response(re.compile("room_ways")):
        press.click()
    expect(press).to_have_text("Stop")
    press.click()
    expect(press).to_have_text("Play")


def rows(page: Page) -> Locator:
    return page.locator("[data-takes] li")


def begin(page: Page) -> None:
    """Have the microphone record to the band."""
    page.locator("[data-record]").click()
    expect(page.locator("[data-place]")).to_contain_text("counting in")


def record(page: Page) -> None:
    begin(page)
    page.locator("[data-record]").click()
    expect(page.locator("[data-record]")).to_have_text("Record")


def go_on(page: Page, number: int, link: Locator) -> None:
    """Press what leads to an item, and see its piece stand there."""
    link.click()
    stands(page, number)


def stands(page: Page, number: int) -> None:
    page.wait_for_url(f"**{item(number)}")
    expect(page.locator("#room")).to_have_attribute("data-base", item(number))
    heading = page.locator("h1")
    expect(heading).to_be_focused()
    expect(page).to_have_title(f"{heading.inner_text()} · Halfstep")


def link_to(page: Page, number: int) -> Locator:
    return page.locator(f"#day a[href='{item(number)}']")


@contextmanager
def one_page(page: Page) -> Iterator[None]:
    """One clock and one microphone at the most: no page was loaded meanwhile."""
    yield
    made = page.evaluate("made")
    assert made["clocks"] == 1
    assert made["microphones"] <= 1


def abouts(site: RealSite, count: int) -> list[TakeAbout]:
    """What is known of the takes that came last."""
    with site.desk.school.reading() as connection:
        takes = sent_takes_of(connection, 1)
    return [read_about(take.about) for take in sorted(takes, key=lambda one: one.number)[-count:]]


def send_all(page: Page) -> None:
    for left in reversed(range(rows(page).count())):
        rows(page).last.get_by_role("button", name="Send").click()
        expect(rows(page)).to_have_count(left)


def test_takes_of_two_items_have_one_clock_and_one_microphone(site: RealSite, page: Page) -> None:
    with one_page(page):
        record(page)
        go_on(page, 2, page.get_by_role("button", name="Nearly"))
        expect(page.locator("[data-level]")).not_to_have_attribute("hidden", "")
        record(page)
        expect(rows(page)).to_have_count(2)
        send_all(page)
        expect(page.get_by_text("What was heard")).to_be_visible()
    assert page.evaluate("made.microphones") == 1
    first, second = abouts(site, 2)
    assert (first.piece, second.piece) == (item(1), item(2))
    assert second.begun_at > first.chirps_at[-1], "by the same clock"
    assert len(first.chirps_at) == len(second.chirps_at) == 2
    expect(page.locator("#day")).to_contain_text("nearly")


def test_a_take_that_is_recorded_is_kept_when_its_piece_is_left(site: RealSite, page: Page) -> None:
    with one_page(page):
        begin(page)
        page.wait_for_timeout(700)
        go_on(page, 2, link_to(page, 2))
        expect(rows(page)).to_have_count(1)
        expect(page.locator("[data-record]")).to_have_text("Record")
        send_all(page)
    assert [about.piece for about in abouts(site, 1)] == [item(1)]


def test_a_take_that_is_about_to_begin_is_none_when_its_piece_is_left(page: Page) -> None:
    with one_page(page):
        page.evaluate(
            "(real) => { real = AudioWorkletNode; window.AudioWorkletNode = class extends real {"
            " get port() { return { close() {} }; } }; }"
        )
        page.locator("[data-record]").click()
        while not page.evaluate("made.microphones"):
            page.wait_for_timeout(50)
        go_on(page, 2, link_to(page, 2))
        page.wait_for_timeout(500)
        expect(page.locator("[data-fault]")).to_be_hidden()
        expect(rows(page)).to_have_count(0)


def test_the_browser_s_way_back_and_forward_leads_from_piece_to_piece(page: Page) -> None:
    with one_page(page):
        go_on(page, 2, link_to(page, 2))
        go_on(page, 1, link_to(page, 1))
        page.go_back()
        stands(page, 2)
        page.go_back()
        stands(page, 1)
        page.go_forward()
        stands(page, 2)
        page.locator(".skip").press("Enter")
        assert page.url.endswith("#main")
        expect(page.locator("#room")).to_have_attribute("data-base", item(2))


def test_a_piece_before_a_page_was_loaded_anew_comes_back_whole(page: Page) -> None:
    go_on(page, 2, link_to(page, 2))
    page.reload()
    page.go_back()
    page.wait_for_url(f"**{item(1)}")
    expect(page.locator("#room")).to_have_attribute("data-base", item(1))


def test_what_the_keys_do_they_do_in_the_piece_that_stands_there(page: Page) -> None:
    asked: list[str] = []
    with one_page(page):
        go_on(page, 2, link_to(page, 2))
        page.on("request", lambda request: asked.append(_path(request)))
        press = page.locator("[data-play]")
        page.keyboard.press("Space")
        expect(press).to_have_text("Stop")
        page.keyboard.press("Space")
        expect(press).to_have_text("Play")
    assert any(path.startswith(f"{item(2)}/sound/") for path in asked)
    assert not any(path.startswith(item(1)) for path in asked)


def _path(request: Request) -> str:
    return request.url.partition("/room")[1] + request.url.partition("/room")[2]


def test_a_piece_that_was_reached_in_place_can_be_read_by_everybody(
    site: RealSite, page: Page
) -> None:
    go_on(page, 2, link_to(page, 2))
    assert grave_faults(page) == []
    assert overflow_px(page) <= 0
    assert site.trouble == []


def test_a_cut_line_is_one_sentence_and_what_is_recorded_goes_on(page: Page) -> None:
    said = page.locator("#told")
    with one_page(page):
        begin(page)
        page.context.set_offline(True)
        link_to(page, 2).click()
        expect(said).to_contain_text(CUT)
        page.get_by_role("button", name="Not yet").click()
        expect(said).to_contain_text(CUT)
        expect(page.locator("[data-record]")).to_have_text("Stop")
        assert page.url.endswith(item(1))
        page.context.set_offline(False)
        go_on(page, 2, link_to(page, 2))
        expect(said).to_be_empty()
        expect(rows(page)).to_have_count(1)
        send_all(page)


def test_a_piece_that_came_by_half_leaves_what_stands(page: Page) -> None:
    with one_page(page):
        page.evaluate(HALF_LOADED)
        link_to(page, 2).click()
        expect(page.locator("#told")).to_contain_text(CUT)
        expect(page.locator("#room")).to_have_attribute("data-base", item(1))
        go_on(page, 2, link_to(page, 2))


def test_a_way_back_over_a_cut_line_leaves_the_address_too(page: Page) -> None:
    with one_page(page):
        go_on(page, 2, link_to(page, 2))
        page.context.set_offline(True)
        page.evaluate("history.back()")
        expect(page.locator("#told")).to_contain_text(CUT)
        page.wait_for_url(f"**{item(2)}")
        page.context.set_offline(False)
        page.go_back()
        stands(page, 1)


def test_a_word_that_the_program_refuses_is_told_and_nothing_is_left(page: Page) -> None:
    with one_page(page):
        page.locator(".own-word button").first.evaluate("button => (button.value = 'bravely')")
        page.locator(".own-word button").first.click()
        expect(page.locator("#told")).to_contain_text("bravely")
        expect(page.locator("#room")).to_have_attribute("data-base", item(1))


def test_what_is_no_room_comes_as_a_whole_page(page: Page) -> None:
    page.evaluate("window.isOld = true")
    page.route("**/word", lambda route: _led(route, "/week"))
    page.get_by_role("button", name="Not yet").click()
    page.wait_for_url("**/week")
    assert page.evaluate("window.isOld") is None


def _led(route: Route, path: str) -> None:
    route.fulfill(status=303, headers={"location": path})


def test_the_room_of_another_player_comes_as_a_whole_page(site: RealSite, page: Page) -> None:
    other = site.student("Corin")
    page.evaluate("window.isOld = true")
    page.context.add_cookies(other.context.cookies())  # type: ignore[arg-type]
    other.context.close()
    link_to(page, 2).click()
    page.wait_for_url(f"**{item(2)}")
    expect(page.locator(".who")).to_have_text("Corin")
    assert page.evaluate("window.isOld") is None
