"""Do all pages hold in a real browser: wide and narrow, light and dark, by keyboard, by ear?

The checker of access is axe-core with its rules for WCAG 2.1, levels A and AA (W3C).
"""

from __future__ import annotations

from collections.abc import Iterator

import pytest
from browsers import DESKTOP, PHONE, RealSite, grave_faults, overflow_px, real_site, tab_stops
from desks import new_desk
from handed_out import chart_of, form_for, made, small_lesson
from test_takes import hear, send

TEACHERS_PAGES = (
    "/",
    "/desk",
    "/charts",
    "/hand-outs/new?chart=1",
    "/hand-outs/1",
    "/classes",
    "/classes/1",
    "/classes/1/links",
    "/students/1",
    "/students/1/erase",
    "/takes",
    "/takes/1",
)
PLAYERS_PAGES = ("/week", "/my-takes", "/my-takes/1")

pytestmark = pytest.mark.slow


@pytest.fixture(scope="module")
def site(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RealSite]:
    with new_desk(tmp_path_factory.mktemp("pages") / "data") as desk:
        hear(desk, send(desk))
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("halfstep.app.tasks.job_work.make_files", small_lesson)
            desk.teacher().post("/hand-outs", data=form_for(chart_of(desk)))
            desk.teacher().post("/classes/1/links")
            made(desk)
        with real_site(desk) as real:
            yield real


@pytest.mark.parametrize("dark", ["light", "dark"])
@pytest.mark.parametrize("size", [DESKTOP, PHONE], ids=["desktop", "phone"])
def test_every_page_can_be_read_by_everybody(
    site: RealSite, size: dict[str, int], dark: str
) -> None:
    faults: dict[str, list[str]] = {}
    for page, paths in (
        (site.teacher(size=size, color_scheme=dark), TEACHERS_PAGES),
        (site.student("Ansel", size=size, color_scheme=dark), PLAYERS_PAGES),
        (site.page(size=size, color_scheme=dark), ("/",)),
    ):
        for path in paths:
            answer = page.goto(path)
            assert answer is not None
            assert answer.status == 200, path
            faults[path] = grave_faults(page)
            assert overflow_px(page) <= 0, path
        page.context.close()
    assert {path: found for path, found in faults.items() if found} == {}


def test_nothing_is_loaded_from_elsewhere_and_nothing_is_refused(site: RealSite) -> None:
    """A refusal by the page's own policy is said in the console."""
    page = site.teacher()
    for path in TEACHERS_PAGES:
        page.goto(path)
        page.wait_for_load_state("networkidle")
    page.context.close()
    assert site.outside == []
    assert [line for line in site.trouble if "Content Security Policy" in line] == []


def test_every_control_is_reached_by_the_tab_key(site: RealSite) -> None:
    page = site.teacher()
    for path in TEACHERS_PAGES[1:]:
        page.goto(path)
        controls: int = page.evaluate(
            "[...document.querySelectorAll('a[href], button, input, select, textarea, summary')]"
            ".filter((e) => e.checkVisibility({visibilityProperty: true}) && !e.disabled"
            " && e.tabIndex >= 0 && (e.type !== 'radio' || e.checked)).length"
        )
        stops = tab_stops(page)
        assert len(stops) >= controls, (path, stops)
    page.context.close()


def test_a_closed_tab_loses_nothing(site: RealSite) -> None:
    page = site.teacher()
    page.goto("/takes/1")
    page.get_by_label("To Ansel").fill("Half a sentence that")
    page.close()
    again = page.context.new_page()
    again.goto("/takes/1")
    assert again.get_by_label("To Ansel").input_value() == "Half a sentence that"
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
