"""Large print, bars on a line and tints: set anew on the same page, and readable by its reader."""

from __future__ import annotations

import re
from pathlib import Path
from random import Random

import handout_sample as sample
import pypdfium2
import pypdfium2.raw as pdfium_c
import pytest
from crowded_scores import crowded_symbol
from hypothesis import given
from hypothesis import strategies as st
from page_collisions import overlaps

from halfstep.errors import BriefError
from halfstep.render.handout import Detail, handout_pdf
from halfstep.render.plan_paper import PaperItem, PlanPaper, plan_pdf
from halfstep.render.print_setting import (
    LARGE_STAFF_MM,
    TINTS,
    USUAL,
    PrintSetting,
    print_setting,
)
from halfstep.render.score_pictures import STAFF_MM, draw_systems
from halfstep.render.staff_page import StaffBlock, StaffPage, set_staff_page

SETTINGS = ("", "large", "large cream", "16mm", "9mm 3 bars", "7.5mm, blue", "5mm 8 bars")
LONG_CHORDS = "F#maj7#11/A# Gm7b5 | C7alt N.C. | Abm(maj7)/Eb Db13sus4 Gbmaj9#11 B7b9#9 | Eb"
INK, GREY_ON_TINT = 0.0, 0.25
"""Of letters on a tint: black, and the grey of `paper.typ` there."""


def printed(setting: str, chords: str = sample.EIGHT_BARS, **changed: object) -> bytes:
    return handout_pdf(sample.handout_of(chords, setting=print_setting(setting), **changed))


def font_sizes(pdf: bytes) -> set[float]:
    """The sizes of letters on the pages, in points."""
    sizes = set()
    document = pypdfium2.PdfDocument(pdf)
    for page in document:
        text = page.get_textpage()
        for place in range(text.count_chars()):
            if not chr(pdfium_c.FPDFText_GetUnicode(text.raw, place)).isspace():
                sizes.add(round(pdfium_c.FPDFText_GetFontSize(text.raw, place), 1))
    document.close()
    return sizes


# What can be asked for


@pytest.mark.parametrize(
    ("text", "setting"),
    [
        ("", USUAL),
        ("large", PrintSetting(LARGE_STAFF_MM)),
        ("Large, Cream", PrintSetting(LARGE_STAFF_MM, tint="cream")),
        ("9 mm 3bars", PrintSetting(9.0, 3)),
        ("1 bar rose 7.25mm", PrintSetting(7.25, 1, "rose")),
    ],
)
def test_a_setting_is_words_in_any_order(text: str, setting: PrintSetting):
    assert print_setting(text) == setting


@given(
    st.builds(
        PrintSetting,
        st.one_of(st.none(), st.integers(50, 160).map(lambda tenths: tenths / 10)),
        st.one_of(st.none(), st.integers(1, 8)),
        st.sampled_from(("", *TINTS)),
    )
)
def test_what_is_kept_of_a_setting_says_it(setting: PrintSetting):
    assert print_setting(str(setting)) == setting


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("largo", "'largo'; did you mean large"),
        ("creme", "did you mean cream"),
        ("4mm", "a staff of 4mm; give 5mm to 16mm"),
        ("0 bars", "0 bars on a line; give 1 to 8 bars"),
        ("12", "choose from large, cream"),
    ],
)
def test_what_makes_no_sense_is_said_in_one_line(text: str, fault: str):
    with pytest.raises(BriefError, match=re.escape(fault)) as told:
        print_setting(text)
    assert "\n" not in str(told.value)


# What large print is


@pytest.mark.slow
def test_the_page_stays_and_the_staff_grows():
    (width, height) = pypdfium2.PdfDocument(printed("large"))[0].get_size()
    assert (width * 25.4 / 72, height * 25.4 / 72) == pytest.approx((210, 297), abs=0.1)
    score = PrintSetting(LARGE_STAFF_MM).on_lines(sample.handout_of().steps[1].score)
    usual, large = (
        draw_systems(part, width_mm=178.0, staff_mm=staff)
        for part, staff in ((sample.handout_of().steps[1].score, STAFF_MM), (score, LARGE_STAFF_MM))
    )
    assert [len(picture.bars) for picture in usual] == [4, 4]
    assert [len(picture.bars) for picture in large] == [2, 2, 2, 2]
    assert all(picture.width_mm <= 178.0 for picture in large)


@pytest.mark.slow
@pytest.mark.parametrize("detail", Detail)
def test_large_print_has_sixteen_points_and_nothing_small(detail: Detail):
    """What is raised in a chord symbol is smaller, and an accidental than its letter."""
    sizes = font_sizes(printed("large", LONG_CHORDS, detail=detail))
    assert 16.1 in sizes
    assert min(sizes) >= 12
    assert min(font_sizes(printed("", LONG_CHORDS, detail=detail))) < 8


@pytest.mark.slow
def test_large_print_has_no_grey():
    for page in pypdfium2.PdfDocument(printed("large")):
        for thing in page.get_objects(filter=[pdfium_c.FPDF_PAGEOBJ_TEXT]):
            red, green, blue, alpha = (pdfium_c.c_uint() for _ in range(4))
            pdfium_c.FPDFPageObj_GetFillColor(thing.raw, red, green, blue, alpha)
            assert (red.value, green.value, blue.value) == (0, 0, 0)


@pytest.mark.slow
def test_the_heading_of_the_steps_has_no_page_to_itself():
    """Where the first step fills a page it stands at the foot of the one before."""
    chords = " | ".join(["F7", "Bb7", "F7", "Cm7 F7"] * 4)
    pages = pypdfium2.PdfDocument(printed("large", chords, detail=Detail.NAMES))
    texts = [page.get_textpage().get_text_range() for page in pages]
    (page,) = (text for text in texts if "The steps" in text)
    assert not page.lstrip().startswith("The steps")
    assert len(page.split()) > 50


@pytest.mark.parametrize("bars", [1, 2, 3, 8])
def test_no_line_has_more_bars_than_are_asked_for(bars: int):
    score = PrintSetting(bars=bars).on_lines(sample.handout_of().steps[0].score)
    pictures = draw_systems(score, width_mm=178.0, staff_mm=5.0)
    assert max(len(picture.bars) for picture in pictures) == bars


@pytest.mark.slow
def test_a_plan_in_large_print_takes_the_pages_it_needs():
    item = PaperItem(
        number=1, title="One chord", role="new", facts="C major", minutes="5 minutes",
        rows=(("goal", "One note. " * 20), ("stop", "after two clean passes. " * 10)),
    )  # fmt: skip
    paper = PlanPaper(
        title="Practice", heading="Monday", player="Odile", facts="30 minutes", manner="",
        entries=(item,) * 5, ticks=("clean", "not yet"), care=("Rest.",),
    )  # fmt: skip
    usual, large = (plan_pdf(paper, setting=print_setting(text)) for text in ("", "large"))
    assert len(pypdfium2.PdfDocument(usual)) == 1
    assert len(pypdfium2.PdfDocument(large)) > 1
    assert min(font_sizes(large)) >= 15.9
    assert overlaps(large) == []


def test_a_sheet_of_several_lines_keeps_the_staff_that_is_asked_for():
    score = sample.handout_of().steps[1].score
    page = StaffPage(
        title="Two Doors Down", reader="Alto", facts=(), manner="",
        blocks=tuple(StaffBlock(score, heading) for heading in "ABCDE"),
        setting=print_setting("large green"),
    )  # fmt: skip
    pages = set_staff_page(page)
    assert len(pages) == 3
    for drawn in pages:
        assert TINTS["green"] in drawn.svg(title="", description="")


# Tints


def luminance(colour: str) -> float:
    """Relative luminance of an sRGB colour (WCAG 2.2)."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("tint", TINTS)
def test_ink_on_a_tint_keeps_a_contrast_of_seven_to_one(tint: str):
    """Reference: WCAG 2.2, 1.4.6."""
    grey = f"#{round(GREY_ON_TINT * 255):02x}" + 2 * f"{round(GREY_ON_TINT * 255):02x}"
    for ink in ("#000000", grey):
        contrast = (luminance(TINTS[tint]) + 0.05) / (luminance(ink) + 0.05)
        assert contrast >= 7


@pytest.mark.slow
@pytest.mark.parametrize("tint", ["", *TINTS])
def test_a_tint_covers_the_page_and_says_nothing(tint: str):
    """The words are those of a white page."""
    pages = [pypdfium2.PdfDocument(printed(setting)) for setting in ("", tint)]
    texts = [[page.get_textpage().get_text_range() for page in document] for document in pages]
    assert texts[0] == texts[1]
    corner = pages[1][0].render(scale=0.2).to_numpy()[0, 0, :3]
    wanted = [int(TINTS.get(tint, "#ffffff")[place : place + 2], 16) for place in (5, 3, 1)]
    assert list(corner) == pytest.approx(wanted, abs=2)


# Nothing overlaps


def chords_at_random(seed: int) -> str:
    """Bars with up to four symbols of every kind."""
    chance = Random(seed)
    bars = (
        " ".join(crowded_symbol(chance) for _ in range(chance.choice((1, 1, 2, 3, 4))))
        for _ in range(chance.randint(2, 10))
    )
    return " | ".join(bars)


@pytest.mark.slow
@pytest.mark.sampled
@pytest.mark.parametrize("setting", SETTINGS)
@pytest.mark.parametrize("detail", Detail)
def test_nothing_on_a_page_overlaps_at_any_size(setting: str, detail: Detail):
    assert overlaps(printed(setting, LONG_CHORDS, detail=detail)) == []


@pytest.mark.slow
@pytest.mark.parametrize("seed", range(12))
def test_nothing_on_pages_of_random_chords_overlaps(seed: int):
    setting, paper = SETTINGS[seed % len(SETTINGS)], ("a4", "letter")[seed % 2]
    handout = sample.handout_of(
        chords_at_random(seed),
        setting=print_setting(setting),
        detail=list(Detail)[seed % 3],
    )
    assert overlaps(handout_pdf(handout, paper=paper)) == []


def test_letters_over_letters_are_noticed(tmp_path: Path):
    typst = pytest.importorskip("typst")
    (tmp_path / "page.typ").write_text("#place(dx: 3pt)[Over] #place(dx: 5pt)[Under]")
    assert overlaps(typst.compile(tmp_path / "page.typ"))
