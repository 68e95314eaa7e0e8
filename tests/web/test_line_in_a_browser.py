"""Is a line edited on its staff in a real browser, by pointer and by key, wide and narrow?

The checker of access is axe-core with its rules for WCAG 2.1, levels A and AA (W3C).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browsers import DESKTOP, PHONE, RealSite, grave_faults, overflow_px, real_site, tab_stops
from desks import new_desk
from playwright.sync_api import Page, expect

from halfstep.app.tasks.line_tasks import open_line
from halfstep.etude.line_edit import EditAction, LineEdit

pytestmark = pytest.mark.slow
CHART = "key: F\n| Gm7 | C7 | Fmaj7 | D7 | Gm7 | C7 | Fmaj7 D7 | Gm7 C7 |"
ASKED = {"step": "chorus", "instrument": "alto-sax", "seed": "1"}


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    with new_desk(tmp_path_factory.mktemp("line") / "data") as desk:
        teacher = desk.teacher()
        teacher.post("/charts", data={"text": CHART})
        for _ in range(3):
            teacher.post("/charts/1/lines", data=ASKED)
        with real_site(desk) as made:
            yield made


def actions(site: RealSite, number: int) -> list[tuple[str, str]]:
    """What was done to a line: the action, and the place of its note."""
    edits = open_line(site.desk.school, number).reply.edits
    return [(edit.action, str(edit.at)) for edit in edits if isinstance(edit, LineEdit)]


def is_still(page: Page) -> None:
    """Wait until all that was pressed has been answered."""
    expect(page.locator("#edit[data-presses='0']:not([aria-busy])")).to_be_attached()


def enter_on(page: Page, name: str) -> None:
    """Press a button by the key, and wait for what comes of it."""
    page.get_by_role("button", name=name).first.focus()
    with page.expect_response(lambda answer: answer.request.method == "POST"):
        page.keyboard.press("Enter")
    expect(page.locator("#edit:not([aria-busy])")).to_be_attached()


def chosen(page: Page) -> str:
    return page.locator("#at").input_value()


def sounding(site: RealSite, number: int) -> list[str]:
    notes = open_line(site.desk.school, number).reply.etude.notes
    return [str(note.onset) for note in notes if note.pitch]


def test_keys_choose_notes_and_edit_them_one_after_the_other(site: RealSite) -> None:
    """Presses that come faster than answers are all made, in their order."""
    page = site.teacher()
    page.goto("/lines/1")
    at = sounding(site, 1)[1]
    page.locator("#at").select_option(at)
    page.locator("#music").focus()
    for key in ("ArrowUp", "ArrowUp", "Shift+ArrowDown", "s", "ArrowRight", "Alt+ArrowUp"):
        page.keyboard.press(key)
    is_still(page)
    assert [action for action, _ in actions(site, 1)] == [
        EditAction.STEP_UP,
        EditAction.STEP_UP,
        EditAction.CHORD_TONE_DOWN,
        EditAction.SPLIT,
        EditAction.HALF_STEP_UP,
    ]
    assert page.evaluate("document.activeElement.id") == "music"
    page.keyboard.press("Control+z")
    is_still(page)
    assert len(actions(site, 1)) == 4
    page.keyboard.press("Control+Shift+z")
    is_still(page)
    assert len(actions(site, 1)) == 5
    page.keyboard.press("b")
    expect(page.get_by_text("Locked: bar")).to_be_visible()
    assert site.trouble == []
    page.context.close()


def test_a_note_is_chosen_by_a_click_and_moved_by_the_pointer(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/lines/2")
    at = sounding(site, 2)[3]
    head = page.locator(f'#music [data-note="{at}"] path').first
    box = head.bounding_box()
    assert box is not None
    x, y = box["x"] + box["width"] / 2, box["y"] + box["height"] / 2
    page.mouse.click(x, y)
    assert chosen(page) == at
    assert page.locator("#told").inner_text().startswith("bar ")
    space = page.evaluate(
        "(() => { const s = document.querySelector('#music svg');"
        " return 180 * s.getBoundingClientRect().width / s.viewBox.baseVal.width; })()"
    )
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x, y + space, steps=4)
    page.mouse.up()
    is_still(page)
    assert actions(site, 2) == [(EditAction.STEP_DOWN, at)] * 2
    page.context.close()


def test_the_focus_stays_where_a_press_was_and_the_edit_is_told(site: RealSite) -> None:
    """A button keeps it when it is swapped; one that cannot be pressed gives it to its part."""
    page = site.teacher()
    page.goto("/lines/3")
    for name in ("Lock bar", "Write the rest again", "Unlock bar", "Take this rhythm"):
        enter_on(page, name)
        assert page.evaluate("document.activeElement.tagName") == "BUTTON", name
    expect(page.locator("#told")).to_contain_text("bar 1 ")
    while page.get_by_role("button", name="Undo").is_enabled():
        enter_on(page, "Undo")
    assert page.evaluate("document.activeElement.id") == "doings"
    page.context.close()


def test_a_chart_that_is_kept_does_not_come_back_as_a_new_one(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/charts")
    page.locator("#text").fill("| Am7 | D7 | Gmaj7 |")
    page.get_by_role("button", name="Keep this chart").click()
    page.wait_for_url("**/charts/*")
    page.goto("/charts")
    assert page.locator("#text").input_value() == ""
    page.context.close()


def test_a_phone_has_its_music_in_shorter_lines(site: RealSite) -> None:
    page = site.teacher(size=PHONE)
    page.goto("/lines/3")
    expect(page.locator("#music")).to_have_attribute("data-room", "92")
    assert page.locator("#music .system").count() >= 4
    before = len(actions(site, 3))
    page.locator("#edit").get_by_role("button", name="Octave down").click()
    expect(page.locator("#edit:not([aria-busy])")).to_be_attached()
    page.wait_for_load_state("networkidle")
    assert len(actions(site, 3)) == before + 1
    assert page.locator("#music").get_attribute("data-room") == "92", "after an edit too"
    assert overflow_px(page) <= 0
    page.context.close()


@pytest.mark.parametrize(
    ("size", "dark"), [(DESKTOP, "light"), (PHONE, "dark")], ids=["desktop", "phone"]
)
def test_a_line_and_its_versions_can_be_read_by_everybody(
    site: RealSite, size: dict[str, int], dark: str
) -> None:
    page = site.teacher(size=size, color_scheme=dark)
    for path in ("/lines/3", "/lines/3/versions"):
        page.goto(path)
        page.wait_for_load_state("networkidle")
        assert grave_faults(page) == []
        assert overflow_px(page) <= 0, path
    page.context.close()
    assert site.outside == []


def test_without_a_script_a_note_is_chosen_from_the_list_and_edited(site: RealSite) -> None:
    page = site.teacher(java_script_enabled=False)
    page.goto("/lines/3")
    before = len(actions(site, 3))
    at = sounding(site, 3)[0]
    page.locator("#at").select_option(at)
    page.get_by_role("button", name="Half step down").click()
    assert actions(site, 3)[before:] == [(EditAction.HALF_STEP_DOWN, at)]
    assert chosen(page) == at
    page.context.close()


def test_every_control_is_reached_by_the_tab_key(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/lines/3")
    stops = tab_stops(page)
    names = {stop.split(" ")[0] for stop in stops}
    assert {"music", "at", "do", "figure"} <= {*stops} | names
    page.context.close()
