"""Do the notes heard so far appear in a real browser while a take is recorded, and keep quiet?"""

from __future__ import annotations

from pathlib import Path

import pytest
from browsers import PATIENCE_MS, PHONE, real_site
from desks import new_desk
from playwright.sync_api import Page, expect

MICROPHONE = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
MOST_SHOWN = 10


def tell(folder: Path, *midis: int, certainty: float = 0.9) -> None:
    """Write down notes of the only recording, as who listens to it would."""
    (sound,) = folder.glob("recordings/*/*.pcm")
    early = folder / "early" / sound.parent.name / sound.stem
    early.mkdir(parents=True, exist_ok=True)
    with (early / "notes.jsonl").open("a") as file:
        file.write("".join(f"[1.0, {midi}, {certainty}]\n" for midi in midis))


def wait_for_sound(page: Page) -> None:
    with page.expect_response(lambda answer: answer.request.method == "PUT", timeout=PATIENCE_MS):
        page.locator("[data-record]").click()


@pytest.mark.slow
def test_the_last_notes_stand_under_the_music_and_are_never_read_aloud(tmp_path: Path) -> None:
    folder = tmp_path / "data"
    with new_desk(folder) as desk, real_site(desk, flags=MICROPHONE) as site:
        page = site.student("Ansel", size=PHONE)
        page.goto("/room")
        notes = page.locator("#heard-notes")
        expect(notes).to_be_hidden()
        wait_for_sound(page)
        expect(notes).to_be_visible()
        expect(notes).to_have_attribute("aria-live", "off")
        tell(folder, 60)
        tell(folder, 62, certainty=0.6)
        expect(notes.locator("li")).to_have_text(["A4", "B4?"])
        tell(folder, *[64] * MOST_SHOWN)
        expect(notes.locator("li").first).to_have_text("C♯5")
        shown = notes.locator("li").count()
        assert 1 < shown <= MOST_SHOWN
        line = notes.locator("ol").evaluate("list => list.scrollWidth <= list.clientWidth")
        assert line
        assert site.trouble == []
