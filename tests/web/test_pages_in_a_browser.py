"""Do all pages hold in a real browser: wide and narrow, light and dark, by keyboard, by ear?

The checker of access is axe-core with its rules for WCAG 2.1, levels A and AA (W3C).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any, Literal

import pytest
from browsers import (
    DESKTOP,
    PHONE,
    RealSite,
    grave_faults,
    overflow_px,
    real_site,
    served,
    tab_stops,
)
from busy_school import ENDLESS, LONG_WORDS, fill_school
from desks import THIRTY, empty_desk
from mirrored_pages import CODE, covered, speak_in_brackets, unmarked
from playwright.sync_api import Page, expect
from starlette.routing import Route

from halfstep.app.tasks.doubling_tasks import add_instrument
from halfstep.app.tasks.room_places import BASES, NEXT_BASE, PLAN_BASE, SHEET_BASE
from halfstep.app.tasks.student_tasks import AddStudent
from halfstep.app.web.routes import ROUTES
from halfstep.school.invitations import invite_class, invite_student, link_word
from halfstep.school.kept_charts import every_chart
from halfstep.school.sent_takes import every_sent_take

TEACHERS_PAGES = {
    "/": "/",
    "/desk": "/desk",
    "/charts": "/charts",
    "/charts/{number:int}": "/charts/2",
    "/charts/{number:int}/remove": "/charts/1/remove",
    "/lines/{line:int}": "/lines/1",
    "/lines/{line:int}/versions": "/lines/1/versions",
    "/hand-outs/new": "/hand-outs/new?chart=2",
    "/hand-outs/{number:int}": "/hand-outs/2",
    "/classes": "/classes",
    "/classes/{number:int}": "/classes/1",
    "/classes/{number:int}/links": "/classes/1/links",
    "/students/{number:int}/standing": "/students/1/standing",
    "/classes/{number:int}/standing": "/classes/1/standing",
    "/students/{number:int}": "/students/1",
    "/students/{number:int}/erase": "/students/1/erase",
    "/takes": "/takes",
    "/takes/{take:int}": "/takes/1",
    "/settings": "/settings",
}
PLAYERS_PAGES = {
    "/week": "/week",
    "/my-takes": "/my-takes",
    "/kept": "/kept",
    "/my-takes/{take:int}": "/my-takes/1",
    "/room": "/room",
    "/room/items/{item:int}": "/room/items/2",
    PLAN_BASE: f"/room/days/{date.today()}/items/1",
    "/room/takes/{take:int}/told": "/room/takes/1/told",
}
IN_THE_STORY = {SHEET_BASE, NEXT_BASE}
"""Pages that need a real sheet and a take that was heard; `test_story` looks at them."""
OF_WHO_SIGNS_IN = {
    "/sign-in",
    "/forgotten",
    "/join/{word}",
    "/account",
    "/account/codes",
    "/people",
    "/people/log",
    "/wards",
}
"""Pages of a school; `test_people_in_a_browser` looks at them."""
STRANGERS_PAGES = {"/in/{word}": "/in/WORD"}
BEGINNINGS = ("/", "/desk", "/charts", "/classes", "/takes")
"""Pages that are there before anything is kept."""
NARROWEST = {"width": 320, "height": 640}
"""CSS pixels to which a page must reflow (WCAG 2.1, 1.4.10)."""
SHOWN: tuple[tuple[dict[str, int], Literal["light", "dark"]], ...] = (
    (DESKTOP, "light"),
    (PHONE, "dark"),
)
"""A size, and how bright a page is."""

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    with empty_desk(tmp_path_factory.mktemp("pages") / "data") as desk:
        fill_school(desk, weeks=2)
        add_instrument(desk.school, 1, AddStudent("", "clarinet"))
        speak_in_brackets(desk.school.folder)
        with real_site(desk) as made:
            yield made


def class_link(site: RealSite) -> str:
    """The address by which a whole class comes in."""
    with site.desk.school.writing() as connection:
        return f"/in/{link_word(site.desk.secret, invite_class(connection, 1))}"


def own_link(site: RealSite) -> str:
    """The address by which the player of the longest name comes in."""
    with site.desk.school.writing() as connection:
        return f"/in/{link_word(site.desk.secret, invite_student(connection, ENDLESS))}"


def visited(site: RealSite, **options: Any) -> Iterator[tuple[Page, str]]:
    """Every page, of who sees it."""
    for page, paths in (
        (site.teacher(**options), TEACHERS_PAGES.values()),
        (site.student(ENDLESS, **options), PLAYERS_PAGES.values()),
        (site.page(**options), ("/", class_link(site), own_link(site))),
    ):
        for path in paths:
            answer = page.goto(path)
            assert answer is not None
            assert answer.status == 200, path
            yield page, path
        page.context.close()


def test_every_page_is_looked_at_here() -> None:
    """An address that answers with a page is in one of the lists above; the others are files."""
    shown = {
        route.path
        for route in ROUTES
        if isinstance(route, Route) and "GET" in (route.methods or ()) and "/api/" not in route.path
    }
    files = {path for path in shown if path.rpartition(".")[2] in {"svg", "pdf", "zip", "{suffix}"}}
    files |= {path for path in shown if path.endswith(("/{name}", ".m4a", ".ics"))}
    files |= {path for path in shown if path.startswith("/room/recordings/")}
    parts = ("piece", "turn", "systems", "sound/{part}")
    files |= {f"{base}/{name}" for base in BASES for name in parts}
    files |= {"/health", "/ready", "/takes/{take:int}/backing", "/classes/{number:int}/roster.csv"}
    files |= {path for path in shown if path.endswith("/recording")}
    elsewhere = {*IN_THE_STORY, *OF_WHO_SIGNS_IN}
    assert shown - files == {*TEACHERS_PAGES, *PLAYERS_PAGES, *STRANGERS_PAGES, *elsewhere}


def test_every_page_can_be_read_by_everybody(site: RealSite) -> None:
    """At a desk by day or on a phone at night, in turns, and on the narrowest of them."""
    faults: dict[str, list[str]] = {}
    for place, (page, path) in enumerate(visited(site)):
        size, scheme = SHOWN[place % len(SHOWN)]
        page.set_viewport_size(size)
        page.emulate_media(color_scheme=scheme)
        faults[f"{path} {scheme}"] = grave_faults(page)
        for size in (DESKTOP, PHONE, NARROWEST):
            page.set_viewport_size(size)
            if (px := overflow_px(page)) > 0:
                faults[f"{path} at {size['width']}"] = [f"{px} px too wide"]
        page.set_viewport_size(DESKTOP)
        page.emulate_media(color_scheme="light")
    assert {path: found for path, found in faults.items() if found} == {}
    assert site.outside == [], "nothing is loaded from elsewhere"
    assert site.trouble == [], "nothing is refused by the page's own policy"


def test_every_page_can_be_in_another_language_and_from_right_to_left(site: RealSite) -> None:
    """On a phone, in a language of brackets: no word stands outside of them but what is known."""
    with site.desk.school.reading() as connection:
        titles = {one.title for one in every_chart(connection)}
        takes = {one.name for one in every_sent_take(connection)}
    known = {ENDLESS, "R" * 60, *(name for name, _ in THIRTY), *titles, *takes, LONG_WORDS.strip()}
    known |= {"Halfstep", "PDF", "MusicXML", "MIDI", "JSON", "Slowly first.", "English", "Bm7"}
    faults: dict[str, list[str]] = {}
    for page, path in visited(site, locale=CODE, size=PHONE):
        assert page.evaluate("document.documentElement.dir") == "rtl"
        faults[path] = [*unmarked(page, known), *map("over: {}".format, covered(page))]
        if (px := overflow_px(page)) > 0:
            faults[path].append(f"{px} px too wide")
    assert {path: found for path, found in faults.items() if found} == {}


def test_a_school_where_nobody_is_yet_can_be_read(site: RealSite, tmp_path: Path) -> None:
    with empty_desk(tmp_path / "data") as desk, served(desk) as address:
        page = RealSite(desk, address, site.browser).teacher(size=PHONE)
        for path in BEGINNINGS:
            page.goto(path)
            assert grave_faults(page) == [], path
            assert overflow_px(page) <= 0, path
        page.context.close()


def test_every_control_is_reached_by_the_tab_key(site: RealSite) -> None:
    for page, path in visited(site):
        expect(page.locator("[data-swap-from]")).to_have_count(0)  # rows that it asks for are there
        controls: int = page.evaluate(
            "[...document.querySelectorAll('a[href], button, input, select, textarea, summary')]"
            ".filter((e) => e.checkVisibility({visibilityProperty: true}) && !e.disabled"
            " && e.tabIndex >= 0 && (e.type !== 'radio' || e.checked)).length"
        )
        stops = tab_stops(page)
        assert len(stops) >= controls, (path, stops)


def test_a_page_with_a_fault_begins_at_its_field(site: RealSite) -> None:
    """On a phone the field may lie screens below the head."""
    page = site.teacher(size=PHONE)
    page.goto("/classes/1")
    page.locator("#players").fill("Ansel kazoo")
    page.get_by_role("button", name="Add them").click()
    page.locator("#players-fault").wait_for()
    assert page.evaluate("document.activeElement.id") == "players"
    site.trouble.clear()  # the browser tells of every answer that is a fault
    page.context.close()


def test_a_closed_tab_loses_nothing(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/takes/1")
    page.get_by_label(f"To {ENDLESS}").fill("Half a sentence that")
    page.close()
    again = page.context.new_page()
    again.goto("/takes/1")
    assert again.get_by_label(f"To {ENDLESS}").input_value() == "Half a sentence that"
    page.context.close()


def test_a_bar_is_heard_at_a_touch(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/takes/1")
    page.get_by_role("button", name="Bar 3").click()
    at: float = page.evaluate("document.getElementById('recording').currentTime")
    wanted = page.get_by_role("button", name="Bar 3").get_attribute("data-time")
    assert wanted is not None
    assert at == pytest.approx(float(wanted), abs=0.2)
    page.context.close()


def test_a_class_is_shown_unit_by_unit_a_moment_later(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/classes/1/standing")
    rows = page.locator("ol.rows > li")
    expect(page.locator(".discs")).to_have_count(rows.count())
    assert page.locator("[data-swap-from]").count() == 0, "asked for once"
    page.context.close()
