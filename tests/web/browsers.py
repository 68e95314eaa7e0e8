"""A real browser for tests: Debian's Chromium, driven by playwright; skipped where it is not."""

from __future__ import annotations

import shutil
import socket
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from threading import Thread
from typing import Any
from urllib.parse import urlsplit

import pytest
import uvicorn
from axe_playwright_python.sync_playwright import Axe
from desks import Desk
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from halfstep.app.job_workers import JobWorkers
from halfstep.app.web.site import desk_site
from halfstep.app.web.visit import COOKIE
from halfstep.school.invitations import desk_word

DESKTOP = {"width": 1280, "height": 900}
PHONE = {"width": 390, "height": 844}
CHROMIUM = shutil.which("chromium") or shutil.which("chromium-browser")
FLAGS = ("--no-sandbox", "--disable-background-networking", "--disable-component-update")
MICROPHONE = ("--use-fake-device-for-media-stream", "--use-fake-ui-for-media-stream")
"""Beeps once a second, and is allowed unasked."""
PATIENCE_MS = 20_000
"""A loaded machine is waited for so long."""
TAB = {"type": "rawKeyDown", "key": "Tab", "code": "Tab", "windowsVirtualKeyCode": 9}
SERIOUS = {"serious", "critical"}
AXE = {"runOnly": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa"], "resultTypes": ["violations"]}


@dataclass(frozen=True, slots=True)
class RealSite:
    """A site that answers at an address, and a browser.

    Attributes
    ----------
    outside : list of str
        Addresses elsewhere that a page asked for.
    trouble : list of str
        What pages said in the browser's console.
    """

    desk: Desk
    address: str
    browser: Browser
    outside: list[str] = field(default_factory=list)
    trouble: list[str] = field(default_factory=list)

    def page(self, word: str = "", *, size: dict[str, int] = DESKTOP, **options: Any) -> Page:
        """A page of somebody with a word; of a stranger without."""
        context = self.browser.new_context(viewport=size, base_url=self.address, **options)
        if word:
            context.add_cookies([{"name": COOKIE, "value": word, "url": self.address}])
        return self._watched(context)

    def _watched(self, context: BrowserContext) -> Page:
        page = context.new_page()
        page.on("request", lambda request: self._note(request.url))
        page.on("console", lambda said: said.type == "error" and self.trouble.append(said.text))
        page.on("pageerror", lambda error: self.trouble.append(str(error)))
        page.set_default_timeout(PATIENCE_MS)
        return page

    def _note(self, url: str) -> None:
        if urlsplit(url).scheme in {"http", "https"} and not url.startswith(self.address):
            self.outside.append(url)

    def teacher(self, **options: Any) -> Page:
        return self.page(desk_word(self.desk.secret), **options)

    def student(self, name: str, **options: Any) -> Page:
        return self.page(self.desk.players_word(name), **options)


@contextmanager
def real_site(
    desk: Desk, *, workers: int = 0, flags: tuple[str, ...] = (), name: str = "127.0.0.1"
) -> Iterator[RealSite]:
    """The desk's site at an address of its own, with a browser; skipped without one.

    Parameters
    ----------
    workers : int
    flags : tuple of str
        More of those that the browser is started with.
    name : str
        By which the browser calls the site.
    """
    expect.set_options(timeout=PATIENCE_MS)
    if CHROMIUM is None:
        pytest.skip("Chromium is not installed")
    args = [*FLAGS, *flags, f"--host-resolver-rules=MAP {name} 127.0.0.1"]
    with served(desk, workers=workers, name=name) as address, sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=args)
        try:
            yield RealSite(desk, address, browser)
        finally:
            browser.close()


@contextmanager
def served(desk: Desk, *, workers: int = 0, name: str = "127.0.0.1") -> Iterator[str]:
    """The address at which the desk's site answers."""
    listener = socket.create_server(("127.0.0.1", 0))
    with listener, JobWorkers(desk.school, workers) as hands:
        site = desk_site(desk.school, wake=hands.wake, names=(name,))
        server = uvicorn.Server(uvicorn.Config(site, log_level="error", ws="none"))
        thread = Thread(target=server.run, args=([listener],), daemon=True)
        thread.start()
        try:
            yield f"http://{name}:{listener.getsockname()[1]}"
        finally:
            server.should_exit = True
            thread.join(10)


def grave_faults(page: Page) -> list[str]:
    """What a general checker of access finds serious on a page (axe-core, WCAG 2.1 A and AA)."""
    found = Axe().run(page, options=AXE).response["violations"]
    return [
        f"{fault['id']}: {node['html'][:160]}"
        for fault in found
        if fault["impact"] in SERIOUS
        for node in fault["nodes"]
    ]


def overflow_px(page: Page) -> int:
    """How much wider a page is than its window."""
    wide: int = page.evaluate("document.documentElement.scrollWidth - innerWidth")
    return wide


NOTE_STOPS = """() => {
  window.stops = new Map();
  window.stoppedAgain = false;
  addEventListener("focusin", ({target: e}) => {
    if (window.stops.keys().next().value === e) window.stoppedAgain = true;
    if (!window.stops.has(e))
      window.stops.set(e, e.id || e.name || e.textContent.trim().slice(0, 40));
  });
  document.activeElement?.blur();
}"""
AT_ONCE, MOST_STOPS = 20, 600
"""The tab key is pressed so often before the page is asked; no page has so many stops."""


def tab_stops(page: Page) -> list[str]:
    """What the tab key reaches, in order, until it comes to the first again or to nothing more."""
    page.evaluate(NOTE_STOPS)
    keys = page.context.new_cdp_session(page)
    stops: list[str] = []
    for _ in range(MOST_STOPS // AT_ONCE):
        for _ in range(AT_ONCE):
            keys.send("Input.dispatchKeyEvent", TAB)
        before = stops
        stops, again = page.evaluate("[[...window.stops.values()], window.stoppedAgain]")
        if again or len(stops) == len(before):
            break
    return stops
