"""Does a band in a browser keep its time, and play what is chosen?"""

from __future__ import annotations

import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from browsers import MICROPHONE, PATIENCE_MS, PHONE, RealSite, real_site
from desks import new_desk
from playwright.sync_api import Page, expect

ITEM = f"/room/days/{date.today().isoformat()}/items/1"

LOOPED = """async ({ base, rate, rounds, tempo }) => {
  const { Band } = await import("/static/band.js");
  const frames = Math.ceil((8 + (rounds * 240) / tempo) * rate);
  const context = new OfflineAudioContext(1, frames, rate);
  const band = new Band(context, { ahead_s: Infinity });
  const troubles = [];
  band.addEventListener("late", () => troubles.push("late"));
  band.setParts({ drums: false, bass: false, chords: false, click: true });
  band.loudness = 1;
  await band.load(base, { tempo });
  await band.start({ choruses: rounds, loop: [2, 2] });
  const starts = [...Array(rounds).keys()].map((round) => band.beatTime(round + 1, 2, 0));
  await new Promise((done) => setTimeout(done, 500));
  const sound = (await context.startRendering()).getChannelData(0);
  // the frame at which each round's first click rises, beside that at which it is meant to
  const rises = starts.map((start) => {
    const first = Math.round(start * rate) - 40;
    const near = sound.subarray(first, first + 400);
    const highest = near.reduce((most, value) => Math.max(most, Math.abs(value)), 0);
    return first + near.findIndex((value) => Math.abs(value) > 0.3 * highest);
  });
  return { starts, rises, troubles };
}"""


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    folder = Path(tmp_path_factory.mktemp("desk")) / "data"
    with new_desk(folder) as desk, real_site(desk, flags=MICROPHONE) as made:
        yield made


@pytest.fixture
def room(site: RealSite) -> Iterator[Page]:
    page = site.student("Ansel", size=PHONE)
    page.goto("/room")
    yield page
    page.context.close()


@pytest.mark.slow
@pytest.mark.parametrize("rate", [44_100, 48_000])
def test_rounds_of_a_loop_begin_on_their_frames(room: Page, rate: int) -> None:
    """By reckoning: three sevenths of a frame is the most that a start can be off."""
    asked = {"base": ITEM, "rate": rate, "rounds": 48, "tempo": 223}
    heard = room.evaluate(LOOPED, asked)
    assert not heard["troubles"]
    first = heard["rises"][0] - heard["starts"][0] * rate
    errors = [
        rise - first - start * rate
        for rise, start in zip(heard["rises"], heard["starts"], strict=True)
    ]
    assert max(map(abs, errors)) < 3 / 7 + 1e-3
    period = 240 / 223
    lasted = (heard["starts"][-1] - heard["starts"][0]) / 47
    assert abs(lasted - period) * rate <= 1 / 14 + 1e-3


@pytest.mark.slow
def test_a_player_plays_with_the_band_and_changes_what_it_does(room: Page, site: RealSite) -> None:
    press = room.locator("[data-play]")
    press.click()
    expect(press).to_have_text("Stop")
    expect(room.locator("[data-place]")).to_have_text("counting in: 2")
    room.get_by_text("Who plays, which bars").click()
    room.get_by_label("From bar").select_option("2")
    room.get_by_label("to bar").select_option("2")
    room.get_by_role("button", name="Metronome only").click()
    expect(room.get_by_label("metronome", exact=True)).to_be_checked()
    room.get_by_role("button", name="Faster by 5").click()
    expect(room.locator("[data-place]")).to_contain_text("bar 2, time 1", timeout=3 * PATIENCE_MS)
    expect(room.locator(".here")).to_have_count(1)
    room.locator("h1").click()
    room.keyboard.press("Space")
    expect(press).to_have_text("Play")
    expect(room.locator(".here")).to_have_count(0)
    drawn = room.locator(".system").first.inner_html()
    room.get_by_label("Key").select_option(index=3)
    room.wait_for_function(
        "drawn => document.querySelector('.system')?.innerHTML != drawn", arg=drawn
    )
    assert not site.trouble


@pytest.mark.slow
def test_a_band_whose_script_does_not_come_is_one_sentence(site: RealSite) -> None:
    page = site.student("Ansel", size=PHONE)
    page.route("**/static/band.js*", lambda route: route.abort())
    page.goto("/room")
    page.locator("[data-play]").click()
    expect(page.locator("[data-said]")).to_contain_text("could not be loaded; load the page again")
    expect(page.locator("[data-play]")).to_have_text("Play")
    page.context.close()
    assert [line for line in site.trouble if "ERR_FAILED" not in line] == []
    site.trouble.clear()


@pytest.mark.slow
@pytest.mark.parametrize("name", ["play", "record"])
def test_a_band_that_does_not_come_is_one_sentence_and_the_next_press_plays(
    room: Page, site: RealSite, name: str
) -> None:
    press, told = room.locator(f"[data-{name}]"), room.locator("[data-said], [data-fault]")
    words = press.inner_text()
    room.route("**/sound/**", lambda route: route.abort())
    press.click()
    expect(told.filter(has_text="The program does not answer")).to_be_visible()
    expect(press).to_have_text(words)
    expect(room.locator("[data-takes] li")).to_have_count(0)
    room.unroute("**/sound/**")
    press.click()
    expect(room.locator(".here")).to_be_visible()
    expect(told.filter(has_text="The program does not answer")).to_have_count(0)
    # what was cut, and a take that is forgotten before the server knows of it
    assert [line for line in site.trouble if not re.search("ERR_FAILED|404", line)] == []
    site.trouble.clear()
