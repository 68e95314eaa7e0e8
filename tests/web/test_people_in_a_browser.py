"""Can the pages of who signs in be read by everybody, and used without a mouse?"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from browsers import DESKTOP, PHONE, grave_faults, overflow_px, real_site
from desks import PLAYERS, Desk, empty_desk, fill_class
from mirrored_pages import CODE, covered, speak_in_brackets, unmarked
from playwright.sync_api import Page, expect

from halfstep.app.tasks.account_tasks import THE_MACHINE, JoinByLink, invite, join_by_link
from halfstep.school.accounts import AccountRole

GOOD = "lamp stairs coat violet"
OWNERS_PAGES = ("/people", "/people/log", "/account", "/account/codes")

KNOWN = {"Halfstep", "Wilma", "Greta", "Otis", "UTC", *(name for name, _ in PLAYERS)}
"""Words of pages that are data in any language."""
NARROWEST = {"width": 320, "height": 640}

pytestmark = pytest.mark.slow


def owned(desk: Desk) -> str:
    """A school with one of each role who has come; the word of a link that was not used."""
    for name, role, player in (
        ("Wilma", AccountRole.OWNER, None),
        ("Greta", AccountRole.GUARDIAN, 1),
    ):
        word = invite(desk.school, name, role, player=player, by=THE_MACHINE)
        join_by_link(desk.school, desk.secret, JoinByLink(word, GOOD))
    return invite(desk.school, "Otis", AccountRole.TEACHER, by=THE_MACHINE)


def sign_in(page: Page, name: str) -> None:
    """By keys alone."""
    page.goto("/sign-in")
    page.get_by_label("Name").focus()
    page.keyboard.type(name)
    page.keyboard.press("Tab")
    page.keyboard.type(GOOD)
    page.keyboard.press("Enter")


def test_the_pages_of_who_signs_in(tmp_path: Path) -> None:
    """Those of an owner, a guardian, and of who has a link; at three widths, by day and night."""
    with empty_desk(tmp_path / "data") as desk:
        fill_class(desk, PLAYERS)
        word = owned(desk)
        speak_in_brackets(desk.school.folder)
        with real_site(desk) as site:
            page = site.page()
            seen(page, "/sign-in", "/forgotten", f"/join/{word}")
            sign_in(page, "Wilma")
            expect(page.get_by_role("heading", name="What waits")).to_be_visible()
            seen(page, *OWNERS_PAGES)
            page.goto("/people")
            page.get_by_label("Name").fill("Nell")
            page.get_by_label("Comes as").select_option("teacher")
            page.get_by_role("button", name="Make the link").click()
            expect(page.get_by_label("Link of Nell")).to_have_value(re.compile("/join/.{40}"))
            page.context.close()
            guardian = site.page()
            sign_in(guardian, "Greta")
            expect(guardian.get_by_role("heading", name="Ansel")).to_be_visible()
            seen(guardian, "/wards")
            guardian.context.close()
            assert (site.outside, site.trouble) == ([], [])


def seen(page: Page, *paths: str) -> None:
    for path in paths:
        page.goto(path)
        for size, scheme in ((DESKTOP, "light"), (PHONE, "dark"), (NARROWEST, "light")):
            page.set_viewport_size(size)
            page.emulate_media(color_scheme=scheme)  # type: ignore[arg-type]
            assert grave_faults(page) == [], path
            assert overflow_px(page) <= 0, (path, size)
        page.set_extra_http_headers({"accept-language": CODE})
        page.goto(path)
        page.set_viewport_size(PHONE)
        assert [*unmarked(page, KNOWN), *covered(page)] == [], path
        assert overflow_px(page) <= 0, path
        page.set_extra_http_headers({})
    page.set_viewport_size(DESKTOP)
