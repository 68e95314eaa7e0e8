"""Is the chirp that a page plays the one that is looked for in takes?"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial

import numpy as np
import pytest
from browsers import CHROMIUM, FLAGS
from playwright.sync_api import Page, Route, sync_playwright

from halfstep.app.web.page import STATIC
from halfstep.listen import chirps

SITE = "http://chirp.test/"
RATES = (16_000, 44_100, 48_000)


def answer(route: Route, **options: str) -> None:
    route.fulfill(**options)


@pytest.fixture
def page() -> Iterator[Page]:
    """A page from whose address the module of the site is answered."""
    if CHROMIUM is None:
        pytest.skip("Chromium is not installed")
    script = (STATIC / "chirp.js").read_text("utf-8")
    with sync_playwright() as playwright:
        browser = playwright.chromium.launch(executable_path=CHROMIUM, args=list(FLAGS))
        page = browser.new_page()
        answers = {"chirp.js": (script, "text/javascript"), "": ("<!doctype html>", "text/html")}
        for name, (body, kind) in answers.items():
            page.route(f"{SITE}{name}", partial(answer, body=body, content_type=kind))
        page.goto(SITE)
        yield page
        browser.close()


@pytest.mark.slow
def test_page_and_program_have_one_chirp(page: Page) -> None:
    """The samples at three rates, to the last bit but one of 16, and the figures by name."""
    module = page.evaluate(
        """async (rates) => {
          const chirp = await import("/chirp.js");
          const names = ["CHIRP_S", "LOW_HZ", "HIGH_HZ", "PEAK"];
          return {
            figures: Object.fromEntries(names.map((name) => [name, chirp[name]])),
            rest_s: chirp.CHIRP_REST_S,
            sounds: rates.map((rate) => Array.from(chirp.chirpSamples(rate))),
          };
        }""",
        list(RATES),
    )
    assert module["figures"] == {name: getattr(chirps, name) for name in module["figures"]}
    assert module["rest_s"] == chirps.LATEST_S + chirps.CHIRP_S
    for rate, sound in zip(RATES, module["sounds"], strict=True):
        np.testing.assert_allclose(sound, chirps.chirp(rate), atol=2e-6)
