"""The engraver's drawing read back: boxes, shapes and whose they are.

Sources: SVG 1.1 for paths and transforms; geometry by construction.
"""

from __future__ import annotations

from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from halfstep.instruments import Clef
from halfstep.render import engraver
from halfstep.render.drawn_line import SPACE, Box, DrawnLine, DrawnShape, hull
from halfstep.render.engraver import EngravingFault, engraved, read_line
from halfstep.render.glyphs import music_box
from halfstep.render.mei import mei_bars, score_mei, staff_mei
from halfstep.score import ScoreBar
from written_scores import COMMON, line, part, rhythm

SVG = "http://www.w3.org/2000/svg"
XLINK = "http://www.w3.org/1999/xlink"


# One shape at a time


def shape_of(svg: str, kind: str = "stem") -> DrawnShape:
    root = ElementTree.fromstring(f'<svg xmlns="{SVG}" xmlns:xlink="{XLINK}">{svg}</svg>')
    shape = engraver._shape(root[0], kind, "n-0-0")
    assert shape is not None
    return shape


@pytest.mark.parametrize(
    ("svg", "box"),
    [
        ('<rect x="10" y="20" width="30" height="5"/>', Box(10, 20, 40, 25)),
        ('<ellipse cx="10" cy="20" rx="3" ry="4"/>', Box(7, 16, 13, 24)),
        ('<polygon points="0,0 10,-5 20,8"/>', Box(0, -5, 20, 8)),
        ('<path d="M0 0 L10 20" stroke-width="4"/>', Box(-2, -2, 12, 22)),
        ('<polyline points="0,0 0,10 20,10 " stroke-width="2"/>', Box(-1, -1, 21, 11)),
        ('<path d="M0 0 C1 9 8 9 10 0" stroke-width="2"/>', Box(-1, -1, 11, 10)),
    ],
)
def test_a_shape_has_the_box_of_its_geometry(svg: str, box: Box) -> None:
    """A stroke reaches half its width to each side; a curve lies within its handles."""
    shape = shape_of(svg)
    assert shape.box == box
    assert (shape.kind, shape.owner) == ("stem", "n-0-0")


def test_a_staff_line_is_taken_without_its_thickness() -> None:
    assert shape_of('<path d="M0 50 L900 50" stroke-width="13"/>', "line").box == Box(
        0, 50, 900, 50
    )


def test_a_line_is_hollow_and_a_curve_is_filled() -> None:
    assert 'fill="none"' in shape_of('<path d="M0 0 L10 20" stroke-width="4"/>').svg
    assert "fill" not in shape_of('<path d="M0 0 C1 9 8 9 10 0" stroke-width="2"/>').svg


@pytest.mark.parametrize("scale", [0.5, 0.72, 1.0])
def test_a_glyph_has_the_box_of_its_font_at_its_place(scale: float) -> None:
    """Y points down on the page and up in the font."""
    shape = shape_of(
        f'<use xlink:href="#E0A4-x1" transform="translate(100, 200) scale({scale}, {scale})"/>'
    )
    left, low, wide, high = music_box(0xE0A4)
    assert shape.box.left == pytest.approx(100 + left * scale)
    assert shape.box.right == pytest.approx(100 + (left + wide) * scale)
    assert shape.box.top == pytest.approx(200 - (low + high) * scale)
    assert shape.box.bottom == pytest.approx(200 - low * scale)


def test_what_is_no_shape_is_none() -> None:
    assert engraver._shape(ElementTree.fromstring(f'<text xmlns="{SVG}">a</text>'), "x", "") is None


# A whole drawing


@pytest.fixture(scope="module")
def drawing() -> DrawnLine:
    bars = (rhythm("1 1/2 1/2 (2)"), ScoreBar(2, COMMON, line("C5 C6 G3 F#4")))
    mei = score_mei(mei_bars(part(*bars, fifths=2), lambda _: 0.0), [(range(2), 0)])
    (page,) = engraved(mei, 20_000.0)
    return read_line(page)


def test_a_drawing_has_a_shape_of_every_kind(drawing: DrawnLine) -> None:
    kinds = [shape.kind for shape in drawing.shapes]
    assert kinds.count("notehead") == 7
    assert kinds.count("rest") == 1
    assert kinds.count("keySig") == 2
    assert kinds.count("clef") == 1
    assert kinds.count("line") == 2 * 5
    assert {"stem", "beam", "meterSig", "barLine"} <= set(kinds)
    assert {kind for kind in kinds if "ledger" in kind} == {
        "ledgerLines above",
        "ledgerLines below",
    }


def test_bars_stand_side_by_side_on_the_staff(drawing: DrawnLine) -> None:
    first, second = (drawing.bars[name] for name in ("b-0", "b-1"))
    assert first.right == pytest.approx(second.left, abs=20)
    assert (first.top, first.bottom) == (second.top, second.bottom)
    assert drawing.staff == hull([first, second])
    assert drawing.staff.bottom - drawing.staff.top == pytest.approx(4 * SPACE)


def test_heads_lie_at_the_height_of_their_pitch(drawing: DrawnLine) -> None:
    """Half a space a step: C5 a seventh under B5... the second space from the top, C6 above."""
    middles = []
    for place in range(4):
        head = drawing.of(f"n-1-{place}", "notehead")
        assert head
        middles.append((head.top + head.bottom) / 2)
    fifth, sixth, low, inner = middles
    assert fifth - sixth == pytest.approx(7 * SPACE / 2, abs=4)
    assert low - fifth == pytest.approx(10 * SPACE / 2, abs=4)
    assert inner - fifth == pytest.approx(4 * SPACE / 2, abs=4)
    assert fifth == pytest.approx(drawing.staff.top + 1.5 * SPACE, abs=4)


def test_heads_go_from_left_to_right(drawing: DrawnLine) -> None:
    heads = [s.box.left for s in drawing.shapes if s.kind == "notehead"]
    assert heads == sorted(heads)


def test_each_note_has_a_stem_on_its_head(drawing: DrawnLine) -> None:
    for owner in ("n-1-0", "n-1-1", "n-1-2"):
        head, stem = drawing.of(owner, "notehead"), drawing.of(owner, "stem")
        assert head
        assert stem
        assert head.meets(stem, gap=5)
        assert stem.bottom - stem.top > 2.5 * SPACE


def test_a_signature_by_itself_has_its_signs() -> None:
    (page,) = engraved(staff_mei(Clef.BASS, -4, '<space dur="4"/>'), 20_000.0)
    kinds = [shape.kind for shape in read_line(page).shapes]
    assert (kinds.count("clef"), kinds.count("keySig")) == (1, 4)


def test_a_wider_page_spreads_the_line() -> None:
    mei = score_mei(mei_bars(part(rhythm("1 1 1 1")), lambda _: 0.0), [(range(1), 0)])
    narrow, wide = (read_line(engraved(mei, width)[0]).staff.right for width in (9000.0, 18_000.0))
    assert narrow == pytest.approx(9000, abs=60)
    assert wide == pytest.approx(18_000, abs=60)
    natural = read_line(engraved(mei, 18_000.0, stretch=False)[0]).staff.right
    assert natural < narrow


def test_a_text_the_engraver_cannot_take_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    class Deaf:
        def __getattr__(self, _name: str) -> object:
            return lambda *_: False

    monkeypatch.setattr(engraver, "_toolkit", Deaf)
    with pytest.raises(EngravingFault, match="the engraver refused the score"):
        engraved("<mei/>", 1000.0)


@given(
    st.floats(-1e4, 1e4).map(lambda n: round(n, 2)), st.floats(-1e4, 1e4).map(lambda n: round(n, 2))
)
def test_numbers_are_read_with_their_sign_and_fraction(one: float, other: float) -> None:
    assert engraver._numbers(f"M{one:.2f} {other:.2f}") == [one, other]
    assert engraver._numbers(None) == []
