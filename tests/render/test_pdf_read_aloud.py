"""A screen reader gets the notes of every line of music; a checker of PDF/UA finds nothing.

Reference: ISO 14289-1 (PDF/UA-1), by pdfua, which checks 16 of the 106 rules that a program can
check: tags, language, title, words for pictures, headings, tables. The typesetter refuses what
breaks others of them (`halfstep.render.typesetting`).
"""

from __future__ import annotations

from itertools import pairwise
from pathlib import Path

import handout_sample as sample
import pypdfium2
import pytest
from pdf_tags import alts_of, kinds_of

from halfstep.render.bound_pages import BoundPart, bound_pdf
from halfstep.render.handout import Detail, handout_pdf
from halfstep.render.print_setting import print_setting
from halfstep.render.staff_page import StaffBlock, StaffPage, staff_page_files
from halfstep.score_words import opening_words, score_words
from halfstep.services.explain_chart import ExplainChart, explain_chart


def findings_of(pdf: bytes, folder: Path) -> list[str]:
    """What the checker has to say of a document."""
    pdfua = pytest.importorskip("pdfua")
    file = folder / "page.pdf"
    file.write_bytes(pdf)
    return [finding.message for finding in pdfua.validate(str(file)).findings]


@pytest.mark.slow
@pytest.mark.parametrize("detail", Detail)
def test_a_checker_of_the_standard_finds_nothing(detail: Detail, tmp_path: Path):
    handout = sample.handout_of("G7 | C7 | N.C. | Am7b5/Eb D7b9", detail=detail)
    assert findings_of(handout_pdf(handout), tmp_path) == []


def test_the_checker_finds_a_page_without_tags(tmp_path: Path):
    """That it finds nothing on ours says something."""
    document = pypdfium2.PdfDocument.new()
    document.new_page(200, 200)
    document.save(tmp_path / "bare.pdf")
    assert findings_of((tmp_path / "bare.pdf").read_bytes(), tmp_path)


@pytest.mark.slow
def test_each_line_of_music_is_read_bar_by_bar():
    handout = sample.handout_of("G7 | C7 | Am7 D7 | G7 | C7 | G7")
    said = [alt for page in alts_of(handout_pdf(handout)) for alt in page]
    for step in handout.steps:
        lines = [alt for alt in said if alt.startswith(f"Step {step.number}, line ")]
        assert len(lines) == 2
        assert "line 1 of 2, 2 sharps, 4 4 time. Bar 1: " in lines[0]
        words = " ".join(score_words(step.score))
        assert "".join(line.partition(". ")[2] + " " for line in lines).strip() == words


# Sheets of several pieces, maps, and what is bound


@pytest.mark.slow
def test_a_sheet_of_several_pieces_is_read_line_by_line(tmp_path: Path):
    """Each line of music is a picture of its own, after what stands at the head of the page."""
    scores = [step.score for step in sample.handout_of().steps[:2]]
    blocks = tuple(StaffBlock(score, key) for score, key in zip(scores, ("B♭", "E"), strict=True))
    page = StaffPage(
        title="Two Doors Down", reader="Alto saxophone", facts=("in two keys",), manner="",
        blocks=blocks, setting=print_setting("large cream"),
    )  # fmt: skip
    ((pdf,), _) = staff_page_files(page, ".pdf")
    assert findings_of(pdf, tmp_path) == []
    first, *others = alts_of(pdf)
    assert first[0] == "Two Doors Down, Alto saxophone, in two keys."
    assert {page[0] for page in others} <= {
        f"Two Doors Down, Alto saxophone, page {number}." for number in range(2, 9)
    }
    music = [alt for page in (first, *others) for alt in page[1:]]
    for score, key in zip(scores, ("B flat", "E"), strict=True):
        lines = [alt for alt in music if alt.startswith(f"{key}, line ")]
        assert lines[0].startswith(f"{key}, line 1 of {len(lines)}, {opening_words(score)}. ")
        assert " ".join(line.partition(". ")[2] for line in lines) == " ".join(score_words(score))


def test_a_map_says_tones_scales_and_what_changes(tmp_path: Path):
    """From a minor seventh to the dominant a fourth higher the seventh falls to the third.

    Common practice, no source.
    """
    chart = "| Bm7 E7 | Amaj7 |"
    pdf = explain_chart(ExplainChart(chart)).map_file(".pdf").data
    assert findings_of(pdf, tmp_path) == []
    ((said,),) = alts_of(pdf)
    assert "1: Bm7 E7; 2: Amaj7." in said
    assert "E7: E, G sharp, B, D; E Mixolydian: E, F sharp, G sharp, A, B, C sharp, D." in said
    assert "From Bm7 to E7: the scale stays; A natural goes to G sharp." in said


@pytest.mark.slow
def test_a_book_of_handouts_is_read_as_they_are(tmp_path: Path):
    """A checker finds nothing; each handout is read behind its player's name, as it is alone."""
    handout = handout_pdf(sample.handout_of("G7 | C7 | Am7 D7 | G7", detail=Detail.NAMES))
    pdf = bound_pdf([BoundPart("Odile", handout), BoundPart("Zoë 山田", handout)], title="Mondays")
    assert findings_of(pdf, tmp_path) == []
    contents, *pages = alts_of(pdf)
    assert contents == []
    assert pages == 2 * alts_of(handout)
    kinds = kinds_of(pdf)
    names = [text for (kind, _), (_, text) in pairwise(kinds) if kind == "Sect"]
    assert names == ["Odile", "Zoë 山田"]
    alone = kinds_of(handout)[1:]  # the document itself
    assert kinds[-len(alone) :] == alone
