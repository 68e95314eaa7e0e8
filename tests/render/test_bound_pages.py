"""Are handouts of a class bound into one file, each page with its reader's name?

Read by PDFium, an independent reader of PDF.
"""

from __future__ import annotations

from pathlib import Path

import pypdfium2 as pdfium
import pytest

from halfstep.instruments import Clef
from halfstep.render.bound_pages import BoundPart, bound_pdf
from halfstep.render.handout import Handout, handout_pdf
from halfstep.render.typesetting import PaperName


def handout(title: str, paper: PaperName = "a4") -> bytes:
    return handout_pdf(
        Handout(title=title, player="Flute", facts="", clef=Clef.TREBLE, grid=()), paper=paper
    )


@pytest.fixture(scope="module")
def bound() -> bytes:
    a4, letter = handout("Room Twelve"), handout("Room Thirteen", "letter")
    parts = [
        BoundPart("Ansel", a4, "Flute"),
        BoundPart("Zoë 山田", letter),
        BoundPart("#Brid *x*", a4),
    ]
    return bound_pdf(parts, title="Room Twelve")


def test_each_page_has_its_size_its_text_and_the_name(bound: bytes, tmp_path: Path) -> None:
    path = tmp_path / "class.pdf"
    path.write_bytes(bound)
    _, *pages = pdfium.PdfDocument(path)
    texts = [page.get_textpage().get_text_range() for page in pages]
    assert "Ansel" in texts[0]
    assert "Room Twelve" in texts[0]
    assert "Zoë" in texts[1]
    assert "#Brid *x*" in texts[2]
    sizes = [tuple(round(side) for side in page.get_size()) for page in pages]
    assert sizes == [(595, 842), (612, 792), (595, 842)]


def test_equal_handouts_give_equal_bytes(bound: bytes) -> None:
    a4, letter = handout("Room Twelve"), handout("Room Thirteen", "letter")
    parts = [
        BoundPart("Ansel", a4, "Flute"),
        BoundPart("Zoë 山田", letter),
        BoundPart("#Brid *x*", a4),
    ]
    assert bound_pdf(parts, title="Room Twelve") == bound


def test_contents_and_outline_say_where_each_handout_begins(bound: bytes) -> None:
    pdf = pdfium.PdfDocument(bound)
    outline = [(mark.get_title(), mark.get_dest().get_index()) for mark in pdf.get_toc()]
    assert outline == [("Ansel", 1), ("Zoë 山田", 2), ("#Brid *x*", 3)]
    contents = pdf[0].get_textpage().get_text_range().split()
    assert contents[:5] == ["Room", "Twelve", "Ansel", "Flute", "2"]
    assert contents[-1] == "4"
    assert "· 4" in pdf[3].get_textpage().get_text_range()


def test_one_handout_alone_has_no_contents() -> None:
    pdf = pdfium.PdfDocument(bound_pdf([BoundPart("Ansel", handout("Room Twelve"))], title="Room"))
    assert len(pdf) == 1
    assert "·" not in pdf[0].get_textpage().get_text_range().split("Room")[0]
