"""A page of our own drawing: its texts and boxes, and the SVG that comes of it.

Sources: ISO 216 (A4 is 210 mm by 297 mm), SVG 1.1, XML 1.0.
"""

from __future__ import annotations

import re
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from halfstep.render.drawn_line import Box
from halfstep.render.glyphs import text_width
from halfstep.render.vector_page import (
    A4_HIGH,
    A4_WIDE,
    INK,
    TEXT_DOWN,
    TEXT_UP,
    VectorPage,
    fitted_size,
)

SVG = "{http://www.w3.org/2000/svg}"
XLINK = "{http://www.w3.org/1999/xlink}href"
words = st.text(st.sampled_from("ABCdegm♭♯7 "), min_size=1, max_size=8)


def tree(page: VectorPage, **options: object) -> ElementTree.Element:
    return ElementTree.fromstring(page.svg(title="Made up", description="", **options))  # type: ignore[arg-type]


def test_a_page_is_a4_in_hundredths_of_a_millimetre() -> None:
    assert (A4_WIDE, A4_HIGH) == (21_000, 29_700)
    root = tree(VectorPage())
    assert (root.get("width"), root.get("height")) == ("210mm", "297mm")
    assert root.get("viewBox") == "0 0 21000 29700"


@pytest.mark.parametrize(
    ("high", "decimals", "text"), [(12_345.6, 2, "123.46mm"), (5_000, 0, "50mm")]
)
def test_a_lower_page_says_its_height(high: float, decimals: int, text: str) -> None:
    root = tree(VectorPage(), high=high, decimals=decimals)
    assert root.get("height") == text
    assert root.get("viewBox") == f"0 0 21000 {high:.0f}"


@given(words, st.integers(0, 20_000), st.integers(0, 29_000), st.integers(50, 900))
def test_a_text_leaves_its_box_and_tells_its_width(text: str, x: int, y: int, size: int) -> None:
    page = VectorPage()
    wide = page.text(text, x, y, size)
    assert wide == text_width(text, size)
    (placed,) = page.texts
    assert (placed.text, placed.size) == (text, size)
    assert placed.box == Box(x, y - TEXT_UP * size, x + wide, y + TEXT_DOWN * size)


@settings(max_examples=30)
@given(st.lists(words, min_size=1, max_size=5))
def test_each_glyph_is_stored_once_and_used_where_it_is_wanted(texts: list[str]) -> None:
    page = VectorPage()
    for text in texts:
        page.text(text, 0, 0, 300)
    root = tree(page)
    stored = [path.get("id") for path in root.iter(f"{SVG}path")]
    used = [use.get(XLINK) for use in root.iter(f"{SVG}use")]
    letters = [letter for text in texts for letter in text if letter != " "]
    assert len(stored) == len(set(letters))
    assert len(used) == len(letters)
    assert {f"#{name}" for name in stored} == set(used)


def test_the_smallest_text_is_known_in_millimetres() -> None:
    page = VectorPage()
    for size in (400, 170, 250):
        page.text("C7", 0, 0, size)
    assert page.smallest_mm == 1.7


def test_bold_letters_are_thicker_but_accidentals_stay_open() -> None:
    """A bold sharp would close up; it has no stroke."""
    page = VectorPage()
    page.text("F♯", 0, 0, 300, bold=True)
    page.text("F♯", 0, 0, 300)
    bold, plain = page.shapes
    assert float(re.search(r'stroke-width="(\d+)"', bold)[1]) > 0  # type: ignore[index]
    assert 'stroke-width="0"' in plain
    assert bold.count('stroke="none"') == 1


def test_a_colour_is_that_of_letters_and_their_stroke() -> None:
    page = VectorPage()
    page.text("C", 0, 0, 300, fill="#123456", bold=True)
    page.text("C", 0, 0, 300)
    assert page.shapes[0].count("#123456") == 2
    assert page.shapes[1].count(INK) == 2


def test_a_rectangle_has_its_place_and_size() -> None:
    page = VectorPage()
    page.rectangle(Box(10, 20, 110.4, 70), "#abc")
    (_, drawn) = tree(page).iter(f"{SVG}rect")
    attributes = {name: drawn.get(name) for name in ("x", "y", "width", "height", "fill")}
    assert attributes == {"x": "10", "y": "20", "width": "100", "height": "50", "fill": "#abc"}


def test_shapes_are_drawn_in_the_order_they_came_on_white() -> None:
    page = VectorPage()
    page.rectangle(Box(0, 0, 10, 10), "#111")
    page.rectangle(Box(0, 0, 10, 10), "#222")
    fills = [rect.get("fill") for rect in tree(page).iter(f"{SVG}rect")]
    assert fills == ["#fff", "#111", "#222"]


@given(st.text(max_size=12), st.text(max_size=12))
def test_title_and_description_are_text_whatever_they_hold(title: str, description: str) -> None:
    root = ElementTree.fromstring(VectorPage().svg(title=title, description=description))
    for tag, text in (("title", title), ("desc", description)):
        expected = "".join(c if c.isprintable() else " " for c in text)
        assert root.findtext(f"{SVG}{tag}", "") == expected


@given(words, st.floats(10, 900), st.floats(10, 5000))
def test_a_text_is_set_as_large_as_it_may_be(text: str, size: float, room: float) -> None:
    fitted = fitted_size(text, size, room)
    assert fitted <= size
    assert text_width(text, fitted) <= room * (1 + 1e-9)
    assert fitted == size or text_width(text, fitted) == pytest.approx(room)


def test_an_empty_text_has_any_size() -> None:
    assert fitted_size("", 300, 10) == 300
