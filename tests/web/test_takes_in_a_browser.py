"""Is a take of the practice room safe in a real browser, whatever line and microphone do?"""

from __future__ import annotations

import wave
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from datetime import date
from pathlib import Path

import pytest
from browsers import MICROPHONE, PHONE, RealSite, real_site
from desks import Desk, new_desk
from handed_out import short_recording
from playwright.sync_api import BrowserContext, Error, Locator, Page, Response, Route, expect

from halfstep.school.sent_takes import SentTake, sent_takes_of

pytestmark = pytest.mark.slow
ROOM = "**/room/days/*/items/*"
KEPT = 0.9
"""Seconds that a take of a second has at the least."""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    folder = tmp_path_factory.mktemp("room") / "data"
    with new_desk(folder) as desk, real_site(desk, flags=MICROPHONE) as site:
        yield site


@pytest.fixture
def page(site: RealSite) -> Iterator[Page]:
    """The practice room of somebody on a phone, without its band."""
    page = site.student("Ansel", size=PHONE)
    page.context.route(ROOM, _without_band)
    yield open_room(page)
    page.context.close()


def _without_band(route: Route) -> None:
    """The page as it is where its band cannot be played: a take then ends when it is pressed."""
    answer = route.fetch()
    route.fulfill(response=answer, body=answer.text().replace("data-band=", "data-gone="))


def open_room(page: Page) -> Page:
    page.goto(f"/room/days/{date.today().isoformat()}/items/1")
    expect(page.locator("[data-record]")).to_be_visible()
    return page


def button(page: Page) -> Locator:
    return page.locator("[data-record]")


def record(page: Page, *, seconds: float = 1.2) -> None:
    """Begin a take, and see that it lies in the browser for so long."""
    button(page).click()
    expect(button(page)).to_have_text("Stop")
    page.wait_for_timeout(1000 * seconds)


def stop(page: Page) -> None:
    button(page).click()
    expect(rows(page).first).to_be_visible()


def rows(page: Page) -> Locator:
    return page.locator("[data-takes] li")


def fault(page: Page) -> Locator:
    return page.locator("[data-fault]")


def told(page: Page) -> Locator:
    return page.locator("#takes-here [data-line]")


def send(page: Page) -> None:
    rows(page).first.get_by_role("button", name="Send").click()
    expect(told(page)).to_have_text("Your take is with your teacher.")
    expect(rows(page)).to_have_count(0)


@contextmanager
def one_more(site: RealSite) -> Iterator[list[Path]]:
    """The recordings that came meanwhile: one."""
    before = {take.number for take in takes(site.desk)}
    came: list[Path] = []
    yield came
    fresh = [take for take in takes(site.desk) if take.number not in before]
    came += [site.desk.school.folder / "takes" / take.file for take in fresh]
    assert len(came) == 1


def takes(desk: Desk) -> tuple[SentTake, ...]:
    with desk.school.reading() as connection:
        return sent_takes_of(connection, 1)


def length_s(path: Path) -> float:
    with wave.open(str(path)) as sound:
        assert any(sound.readframes(sound.getnframes()))
        return sound.getnframes() / sound.getframerate()


def test_a_take_is_recorded_heard_again_and_sent(site: RealSite, page: Page) -> None:
    with one_more(site) as came:
        record(page)
        expect(page.locator("[data-level]")).to_be_visible()
        stop(page)
        expect(rows(page).first).to_contain_text("in this browser, not sent")
        rows(page).first.get_by_role("button", name="Listen", exact=True).click()
        expect(page.locator("[data-listen]")).to_be_visible()
        send(page)
    assert length_s(came[0]) >= KEPT
    expect(told(page).locator("a")).to_have_attribute("href", f"/my-takes/{len(takes(site.desk))}")


DELAYS_S = (-0.05, 0.0, 0.0123, 0.28)
FOUND = """async ([rate, delays]) => {
  const { delayOf } = await import("/static/take_delay.js");
  const chirp = (await import("/static/chirp.js")).chirpSamples(rate);
  const noise = () => Float32Array.from({ length: 3 * rate }, () => Math.random() / 50 - 0.01);
  const delayed = (delay) => {
    const sound = noise();
    const first = Math.round((0.4 + delay) * rate);
    chirp.forEach((level, place) => (sound[first + place] += 0.3 * level));
    return sound;
  };
  const sounds = [...delays.map(delayed), noise(), new Float32Array(9)];
  return sounds.map((sound) => delayOf(sound, rate, chirp, 0.4));
}"""


@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_a_take_stands_over_its_band_by_its_chirp(page: Page, rate: int) -> None:
    """The chirp is laid into noise at a known place, and into noise without one."""
    delays = page.evaluate(FOUND, [rate, DELAYS_S])
    assert delays[:-2] == pytest.approx(DELAYS_S, abs=0.0001)
    assert delays[-2:] == [None, None]


def test_a_take_that_waits_is_shown_and_sent_beside_those_that_were_sent(
    site: RealSite, page: Page
) -> None:
    record(page)
    stop(page)
    page.goto("/my-takes")
    with one_more(site):
        send(page)


def test_a_line_that_is_cut_while_recording_and_sending_costs_nothing(
    site: RealSite, page: Page
) -> None:
    with one_more(site) as came:
        record(page, seconds=0.6)
        page.context.set_offline(True)
        page.wait_for_timeout(900)
        expect(told(page)).to_contain_text("The line is cut")
        stop(page)
        rows(page).first.get_by_role("button", name="Send").click()
        expect(rows(page).first).to_contain_text("on its way")
        page.context.set_offline(False)
        expect(told(page)).to_have_text("Your take is with your teacher.")
    assert length_s(came[0]) >= KEPT


def test_what_is_thrown_away_over_a_cut_line_goes_from_the_server_when_it_answers(
    site: RealSite, page: Page
) -> None:
    record(page)
    stop(page)
    assert sounds(site)
    page.context.set_offline(True)
    throw_away(page)
    assert sounds(site)
    with page.expect_response(is_of_removal):
        page.context.set_offline(False)
    assert not sounds(site)


def test_a_crashed_tab_leaves_its_take_and_what_was_to_be_sent_goes_on(
    site: RealSite, page: Page
) -> None:
    with one_more(site) as came:
        record(page)
        context = page.context
        crash(page)
        again = open_room(context.new_page())
        expect(rows(again)).to_have_count(1)
        context.set_offline(True)
        rows(again).first.get_by_role("button", name="Send").click()
        expect(rows(again).first).to_contain_text("on its way")
        again.close()
        context.set_offline(False)
        last = open_room(context.new_page())
        expect(told(last)).to_have_text("Your take is with your teacher.")
        expect(rows(last)).to_have_count(0)
    assert length_s(came[0]) >= KEPT


def crash(page: Page) -> None:
    """Have the process of a page end as if it were killed."""
    with page.expect_event("crash"), suppress(Error):
        page.goto("chrome://crash")
    page.close()


def test_a_take_of_another_tab_is_left_alone_and_a_take_of_another_player_is_not_seen(
    site: RealSite, page: Page
) -> None:
    record(page)
    other = open_room(page.context.new_page())
    expect(rows(other)).to_have_count(0)
    stop(page)
    other.reload()
    expect(rows(other)).to_have_count(1)
    come_as(site, page.context, "Corin")
    expect(rows(open_room(other))).to_have_count(0)
    come_as(site, page.context, "Ansel")
    open_room(other)
    with other.expect_response(is_of_removal):
        throw_away(other)
    assert not sounds(site)


def throw_away(page: Page) -> None:
    rows(page).first.get_by_role("button", name="Throw away").click()
    page.get_by_role("button", name="Throw away for good").click()
    expect(rows(page)).to_have_count(0)


def is_of_removal(answer: Response) -> bool:
    return answer.request.method == "DELETE" and answer.ok


def sounds(site: RealSite) -> list[Path]:
    """What lies on the disk of recordings that are no takes."""
    return [*(site.desk.school.folder / "recordings").rglob("*.pcm")]


def come_as(site: RealSite, context: BrowserContext, name: str) -> None:
    """Let another player have the browser."""
    visitor = site.student(name)
    context.add_cookies(visitor.context.cookies())  # type: ignore[arg-type]
    visitor.context.close()


REFUSALS = {
    "NotAllowedError": "may not use the microphone",
    "NotFoundError": "There is no microphone here",
    "NotReadableError": "Another program has the microphone",
    "TypeError": "The microphone did not start",
}


def test_each_reason_for_no_microphone_is_one_sentence_and_the_next_press_works(
    page: Page,
) -> None:
    for name, line in REFUSALS.items():
        page.evaluate(
            "name => { const media = navigator.mediaDevices;"
            " media.getUserMedia = () => { delete media.getUserMedia;"
            " return Promise.reject(new DOMException('', name)); }; }",
            name,
        )
        button(page).click()
        expect(fault(page)).to_contain_text(line)
        expect(button(page)).to_have_text("Record")
    record(page)
    expect(fault(page)).to_be_hidden()
    stop(page)


def test_a_page_that_has_no_microphone_says_why_and_takes_a_file(
    site: RealSite, page: Page
) -> None:
    page.evaluate("Object.defineProperty(navigator, 'mediaDevices', { value: undefined })")
    button(page).click()
    expect(fault(page)).to_contain_text("no microphone to a page without https")
    with one_more(site) as came:
        page.get_by_text("A file instead").click()
        form = page.locator("#file-instead form")
        file = {"name": "words.wav", "mimeType": "audio/wav", "buffer": b"no sound"}
        form.locator("[type=file]").set_input_files(file)  # type: ignore[arg-type]
        form.get_by_role("button", name="Send the file").click()
        expect(page.locator("[data-file-fault]")).to_be_visible()
        file = {"name": "kitchen.wav", "mimeType": "audio/wav", "buffer": short_recording()}
        form.locator("[type=file]").set_input_files(file)  # type: ignore[arg-type]
        form.get_by_role("button", name="Send the file").click()
        expect(told(page)).to_have_text("Your take is with your teacher.")
    assert came[0].read_bytes() == short_recording()


GONE = """name => {
  const [track] = stream.getTracks();
  if (name === "ended") track.stop();
  track.dispatchEvent(new Event(name));
}"""


@pytest.mark.parametrize("event", ["ended", "mute"])
def test_a_microphone_that_is_taken_away_ends_the_take_and_the_next_one_is_whole(
    site: RealSite, page: Page, event: str
) -> None:
    page.evaluate(
        "() => { const media = navigator.mediaDevices; const real = media.getUserMedia.bind(media);"
        " media.getUserMedia = async (what) => (window.stream = await real(what)); }"
    )
    record(page)
    page.evaluate(GONE, event)
    expect(fault(page)).to_contain_text("The microphone was taken away, by a call perhaps")
    expect(button(page)).to_have_text("Record")
    expect(rows(page).first).to_contain_text("with a gap at")
    with one_more(site) as came:
        send(page)
    assert length_s(came[0]) >= KEPT
    record(page)
    stop(page)
    with one_more(site) as came:
        send(page)
    assert length_s(came[0]) >= KEPT


def test_a_full_browser_says_so_and_the_take_can_be_sent(site: RealSite, page: Page) -> None:
    session = page.context.new_cdp_session(page)
    quota = {"origin": site.address, "quotaSize": 20_000}
    session.send("Storage.overrideQuotaForOrigin", quota)
    with one_more(site) as came:
        record(page)
        expect(fault(page)).to_contain_text("This browser keeps no more")
        stop(page)
        send(page)
    assert length_s(came[0]) >= KEPT
    session.send("Storage.overrideQuotaForOrigin", {"origin": site.address})
