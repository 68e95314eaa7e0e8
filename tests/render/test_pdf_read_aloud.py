"""A screen reader gets the notes of every line of music; a checker of PDF/UA finds nothing.

Reference: ISO 14289-1 (PDF/UA-1), by pdfua, which checks 16 of the 106 rules that a program can
check: tags, language, title, words for pictures, headings, tables. The typesetter refuses what
breaks others of them (`halfstep.render.typesetting`).
"""

from __future__ import annotations

from pathlib import Path

import handout_sample as sample
import pypdfium2
import pytest
from pdf_tags import alts_of

from halfstep.render.handout import Detail, handout_pdf
from halfstep.score_words import score_words


def findings_of(pdf: bytes, folder: Path) -> list[str]:
    """What the checker has to say of a document."""
    pdfua = pytest.importorskip("pdfua")
    file = folder / "page.pdf"
    file.write_bytes(pdf)
    return [finding.message for finding in pdfua.validate(str(file)).findings]


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


def test_each_line_of_music_is_read_bar_by_bar():
    handout = sample.handout_of("G7 | C7 | Am7 D7 | G7 | C7 | G7")
    said = [alt for page in alts_of(handout_pdf(handout)) for alt in page]
    for step in handout.steps:
        lines = [alt for alt in said if alt.startswith(f"Step {step.number}, line ")]
        assert len(lines) == 2
        assert "line 1 of 2, 2 sharps, 4 4 time. Bar 1: " in lines[0]
        words = " ".join(score_words(step.score))
        assert "".join(line.partition(". ")[2] + " " for line in lines).strip() == words
