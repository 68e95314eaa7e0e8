"""The whole way in a real browser, from a line of chords to a take and the plan of what comes next.

Sheets are made and a take is heard by real workers, whose time is the most of this test's. The
microphone is the browser's own stand-in, which plays a file round and round: what is heard is
notes, but nobody's timing.
"""

from __future__ import annotations

from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

import pytest
from browsers import MICROPHONE, PATIENCE_MS, PHONE, RealSite, grave_faults, overflow_px, real_site
from desks import PLAYERS, THIRTY, empty_desk, fill_class
from handed_out import made, small_lesson
from playwright.sync_api import Page, TimeoutError, expect

from app.test_hear_command import take_file

CHORDS = "key: F\ntempo: 160\n| Gm7 | C7 | Fmaj7 | D7 |"
BEAT_S = 60 / 160
ARPEGGIOS = (55, 58, 62, 65, 60, 64, 67, 70, 65, 69, 72, 76, 62, 66, 69, 72)
"""A quarter each over the four bars, in concert pitch."""
WORK_MS = 90_000
"""So long a loaded machine may take to make a sheet, or to hear a take."""

pytestmark = pytest.mark.slow


@dataclass
class Hand:
    """A hand at a page: what it presses is counted."""

    page: Page
    clicks: int = 0

    def press(self, role: str, name: str) -> None:
        """Press what is called so."""
        self.page.get_by_role(role, name=name, exact=True).first.click()  # type: ignore[arg-type]
        self.clicks += 1


def test_a_line_of_chords_becomes_a_take_words_and_the_next_plan(tmp_path: Path) -> None:
    microphone = tmp_path / "microphone.wav"
    notes = [(n * BEAT_S, 0.9 * BEAT_S, midi) for n, midi in enumerate(ARPEGGIOS)]
    take_file(microphone, notes, len(notes) * BEAT_S)
    with empty_desk(tmp_path / "data") as desk:
        fill_class(desk, PLAYERS[:1])
        flags = (*MICROPHONE, f"--use-file-for-fake-audio-capture={microphone}")
        with real_site(desk, workers=1, flags=flags) as site:
            _story(site)


def _story(site: RealSite) -> None:
    teacher = Hand(site.teacher())
    _chart_is_drawn_and_kept(teacher)
    _line_is_written_and_a_note_moved(teacher)
    _line_is_handed_out(teacher)
    phone = site.student("Ansel", size=PHONE, is_mobile=True, has_touch=True)
    _sheet_is_seen_and_heard(phone)
    _room_is_played_in(phone)
    _microphone_is_refused_once(phone)
    _take_is_recorded_over_a_cut_line(phone)
    _take_is_heard_and_its_etude_played(phone)
    _plan_goes_on_by_the_player_s_word(phone)
    _take_is_heard_from_a_bar_and_answered(teacher)
    phone.goto("/my-takes")
    phone.locator("a[href='/my-takes/1']").tap()
    expect(phone.get_by_text("Sing bar 2 first.")).to_be_visible()
    expect(phone.get_by_text("mostly")).to_be_visible()
    assert site.outside == []
    assert [line for line in site.trouble if not _is_of_the_story(line)] == []


def _is_of_the_story(line: str) -> bool:
    """A chart half typed, and a line that is cut."""
    return "422" in line or "ERR_INTERNET_DISCONNECTED" in line


def _chart_is_drawn_and_kept(teacher: Hand) -> None:
    page = teacher.page
    page.goto("/desk")
    teacher.press("link", "Charts")
    field = page.get_by_label("The chords")
    field.press_sequentially(f"{CHORDS} Xm7 |")
    expect(page.locator("#faults")).to_contain_text("line 3, column 27")
    field.fill(CHORDS)
    expect(page.get_by_label("The chart as it is drawn")).to_contain_text("Fmaj7")
    expect(page.locator("#faults")).to_have_text("")
    teacher.press("button", "Keep this chart")
    page.wait_for_url("**/charts/1")


def _line_is_written_and_a_note_moved(teacher: Hand) -> None:
    page = teacher.page
    page.get_by_role("combobox", name="Instrument").select_option("alto-sax")
    teacher.press("button", "Write a line")
    page.wait_for_url("**/lines/1")
    music = page.get_by_label("The music.")
    music.focus()
    before = page.get_by_label("The note").inner_text()
    music.press("ArrowUp")
    expect(page.get_by_role("button", name="Undo")).to_be_enabled()
    assert page.get_by_label("The note").inner_text() != before


def _line_is_handed_out(teacher: Hand) -> None:
    page = teacher.page
    teacher.press("link", "Hand out")
    page.wait_for_url("**/hand-outs/new?*line=1")
    page.locator("[name=steps][value=arpeggio]").check()
    page.get_by_label("Your words").fill("Slowly first.")
    teacher.press("button", "Hand out")
    expect(page.get_by_text("0 of 1 sheet is there")).to_be_visible()
    expect(page.get_by_text("1 of 1 sheet is there")).to_be_visible(timeout=WORK_MS)


def _sheet_is_seen_and_heard(phone: Page) -> None:
    phone.goto("/week")
    expect(phone.get_by_text("Slowly first.")).to_be_visible()
    staff = phone.locator("img.staff").first
    staff.scroll_into_view_if_needed()
    phone.wait_for_function("document.querySelector('img.staff').naturalWidth > 0")
    assert overflow_px(phone) <= 0
    for sound in phone.locator("audio").all():
        sound.evaluate(
            "one => new Promise((done, fail) => { one.oncanplay = done; one.onerror = fail;"
            " one.preload = 'auto'; one.load(); })"
        )
        assert sound.evaluate("one => one.duration") > 4 * 4 * BEAT_S


def _room_is_played_in(phone: Page) -> None:
    phone.get_by_role("link", name="Play it with the band").first.tap()
    expect(phone.get_by_role("button", name="Play", exact=True)).to_be_in_viewport()
    _can_be_read(phone)
    phone.get_by_text("Who plays, which bars").tap()
    phone.get_by_label("How often").select_option("1 time")
    phone.get_by_text("Who plays, which bars").tap()
    phone.get_by_role("button", name="Play", exact=True).tap()
    expect(phone.locator(".here")).to_be_visible()
    phone.get_by_role("button", name="Stop", exact=True).first.tap()
    expect(phone.get_by_role("button", name="Play", exact=True)).to_be_visible()


def _microphone_is_refused_once(phone: Page) -> None:
    phone.evaluate(
        "() => { const media = navigator.mediaDevices; media.getUserMedia = () => {"
        " delete media.getUserMedia;"
        " return Promise.reject(new DOMException('', 'NotAllowedError')); }; }"
    )
    phone.get_by_role("button", name="Record").tap()
    expect(phone.get_by_role("alert")).to_contain_text("may not use the microphone")


def _take_is_recorded_over_a_cut_line(phone: Page) -> None:
    phone.context.set_offline(True)  # what was played before is there without a line
    phone.get_by_role("button", name="Record").tap()
    expect(phone.locator(".here")).to_be_visible()
    expect(phone.get_by_text("The line is cut")).to_be_visible()
    waiting = phone.get_by_label("Takes in this browser").get_by_role("listitem")
    expect(waiting).to_contain_text("in this browser, not sent")
    waiting.get_by_role("button", name="Send").tap()
    expect(waiting).to_contain_text("on its way")
    phone.context.set_offline(False)
    expect(phone.get_by_text("is with your teacher")).to_be_visible()


def _take_is_heard_and_its_etude_played(phone: Page) -> None:
    play_it = phone.get_by_role("link", name="Play it now").first
    expect(play_it).to_be_visible(timeout=WORK_MS)
    _can_be_read(phone)
    phone.evaluate("window.isOfThisVisit = true")
    play_it.tap()
    phone.wait_for_url("**/room/takes/1/next/1")
    expect(phone.get_by_role("button", name="Play", exact=True)).to_be_in_viewport()
    _can_be_read(phone)
    phone.locator("main a.leads").first.tap()
    phone.wait_for_url("**/room/sheets/1/*")
    expect(play_it).to_be_visible()  # what was heard stands there again
    assert phone.evaluate("window.isOfThisVisit")


def _can_be_read(phone: Page) -> None:
    assert overflow_px(phone) <= 0
    assert grave_faults(phone) == []


def _plan_goes_on_by_the_player_s_word(phone: Page) -> None:
    phone.get_by_role("link", name="Practise").tap()
    phone.wait_for_url("**/items/1")
    first = phone.get_by_role("heading", level=1).inner_text()
    phone.get_by_role("button", name="Nearly").tap()
    phone.wait_for_url("**/items/2")
    expect(phone.get_by_label("The day’s plan")).to_contain_text(f"done: {first}")
    _can_be_read(phone)


def _take_is_heard_from_a_bar_and_answered(teacher: Hand) -> None:
    page = teacher.page
    teacher.press("link", "Takes")
    page.get_by_role("link", name="Ansel").first.click()
    page.wait_for_url("**/takes/1")
    page.wait_for_load_state()  # a press before its script is there does nothing
    bar = page.get_by_role("button", name="Bar 3")
    bar.click()
    at = page.evaluate("document.getElementById('recording').currentTime")
    assert at == pytest.approx(float(bar.get_attribute("data-time") or "nan"), abs=0.5)
    page.get_by_role("group", name="Tone").get_by_label("mostly").check()
    page.get_by_label("To Ansel").fill("Sing bar 2 first.")
    teacher.press("button", "Send to Ansel")
    expect(page.get_by_text("Answered")).to_be_visible()


def test_four_clicks_lead_from_a_line_of_chords_to_thirty_sheets(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
    with empty_desk(tmp_path / "data") as desk:
        fill_class(desk, THIRTY)
        with real_site(desk) as site:
            hand = Hand(site.teacher())
            hand.page.goto("/desk")
            hand.press("link", "Charts")
            hand.page.get_by_label("The chords").fill(CHORDS)
            hand.press("button", "Keep this chart")
            hand.press("link", "Hand out")
            hand.press("button", "Hand out")
            expect(hand.page.get_by_text("0 of 30 sheets are there")).to_be_visible()
            made(desk)
            # nobody presses anything: the page looks by itself
            expect(hand.page.get_by_text("sheets are there")).to_contain_text("30 of 30")
            assert hand.clicks == 4


PRESSES = 4


@dataclass
class Keys:
    """Somebody without a mouse."""

    page: Page

    def go_to(self, name: str) -> None:
        """Press the tab key until something of this name has the focus."""
        for _ in range(200):
            self.page.keyboard.press("Tab")
            if self.page.evaluate(_FOCUSED).startswith(name):
                return
        raise AssertionError(f"{name} is not reached at {self.page.url}")

    def press(self, name: str, key: str = "Enter") -> None:
        """Press a key on what is called so, and wait for where it leads."""
        self.go_to(name)
        self.page.keyboard.press(key)
        self.page.wait_for_load_state()

    def choose(self, file: Path) -> None:
        """Choose a file for the field that has the focus; a busy machine may miss a press."""
        for _ in range(PRESSES):
            with suppress(TimeoutError):
                with self.page.expect_file_chooser(timeout=PATIENCE_MS / PRESSES) as chooser:
                    self.page.keyboard.press("Space")
                chooser.value.set_files(file)
                return
        raise AssertionError("no file can be chosen by a key")

    def type(self, name: str, text: str) -> None:
        """Type a text into a field."""
        self.go_to(name)
        self.page.keyboard.insert_text(text)


_FOCUSED = """(() => {
  const one = document.activeElement;
  const label = one?.labels?.[0]?.textContent || one?.getAttribute("aria-label");
  return (label || one?.textContent || "").trim();
})()"""


def test_the_way_is_walked_without_a_mouse(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
    with empty_desk(tmp_path / "data") as desk:
        fill_class(desk, PLAYERS[:1])
        with real_site(desk) as site:
            teacher, student = Keys(site.teacher()), Keys(site.student("Ansel"))
            _handed_out_by_keys(teacher)
            made(desk)
            take = take_file(tmp_path / "kitchen.wav")
            _sent_by_keys(student, tmp_path / take)
            _answered_by_keys(teacher)
            student.page.goto("/my-takes")
            student.press("kitchen")
            expect(student.page.get_by_text("Sing bar 2 first.")).to_be_visible()


def _handed_out_by_keys(teacher: Keys) -> None:
    teacher.page.goto("/desk")
    teacher.press("Charts")
    teacher.page.wait_for_url("**/charts")
    teacher.type("The chords", CHORDS)
    teacher.press("Keep this chart")
    teacher.page.wait_for_url("**/charts/1")
    teacher.press("Hand out")
    teacher.page.wait_for_url("**/hand-outs/new?*")
    teacher.press("Hand out")
    teacher.page.wait_for_url("**/hand-outs/1")


def _sent_by_keys(student: Keys, take: Path) -> None:
    student.page.goto("/week")
    student.go_to("Your recording")
    student.choose(take)
    student.press("Send")
    expect(student.page.get_by_text("is with your teacher")).to_be_visible()


def _answered_by_keys(teacher: Keys) -> None:
    teacher.page.goto("/takes")
    teacher.press("Ansel")
    teacher.page.wait_for_url("**/takes/1")
    teacher.type("To Ansel", "Sing bar 2 first.")
    teacher.press("Send to Ansel")
    expect(teacher.page.get_by_text("Answered")).to_be_visible()


def test_the_room_is_walked_without_a_mouse(tmp_path: Path) -> None:
    with empty_desk(tmp_path / "data") as desk:
        fill_class(desk, PLAYERS[:1])
        with real_site(desk, flags=MICROPHONE) as site:
            student = Keys(site.student("Ansel"))
            student.page.goto("/week")
            student.press("Practise")
            student.page.wait_for_url("**/items/1")
            _played_by_keys(student.page)
            _recorded_by_keys(student)
            student.press("Nearly")
            student.page.wait_for_url("**/items/2")
            assert site.trouble == []


def _played_by_keys(page: Page) -> None:
    """The space bar plays and stops wherever nothing else wants it."""
    press = page.locator("[data-play]")
    expect(press).to_be_visible()
    page.keyboard.press("Space")
    expect(press).to_have_text("Stop")
    page.keyboard.press("Space")
    expect(press).to_have_text("Play")


def _recorded_by_keys(student: Keys) -> None:
    page, press = student.page, student.page.locator("[data-record]")
    student.press("Record")
    expect(press).to_have_text("Stop")
    page.wait_for_timeout(500)
    page.keyboard.press("Enter")
    # what was recorded has its button for sending at hand
    expect(page.get_by_role("button", name="Send", exact=True)).to_be_focused()
    page.keyboard.press("Enter")
    expect(page.get_by_text("is with your teacher")).to_be_visible()
