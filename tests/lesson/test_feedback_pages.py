"""The pages and the picture of a take that was judged, as files."""

from __future__ import annotations

from dataclasses import replace

import pypdfium2
import pypdfium2.raw as pdfium_c
import pytest

from halfstep.feedback.finding_signs import marked_staff, signed
from halfstep.feedback.judge import Feedback
from halfstep.lesson.feedback_pages import PlayedNext, feedback_paper, feedback_picture
from halfstep.render.feedback_paper import feedback_pdf
from halfstep.render.score_pictures import set_lines
from halfstep.render.staff_page import staff_page_files
from halfstep.render.typesetting import PaperName
from halfstep.services.spot_etudes import spot_etudes
from told_takes import a_take, every_finding, told


def paper_of(feedback: Feedback, **options: object) -> bytes:
    """The pages, with two things to do next."""
    nexts = [
        PlayedNext(
            each.thing, each.label, "slowly", "next.m4a", each.reply.etude, each.reply.score()
        )
        for each in spot_etudes(feedback, None)
    ]
    sheet: PaperName = options.pop("sheet", "a4")
    return feedback_pdf(feedback_paper(feedback, nexts, title="take", **options), sheet=sheet)


def texts_of(pdf: bytes) -> list[str]:
    document = pypdfium2.PdfDocument(pdf)
    return [page.get_textpage().get_text_bounded() for page in document]


@pytest.fixture(scope="module")
def full() -> tuple[Feedback, list[str]]:
    feedback = told(*every_finding())
    return feedback, texts_of(paper_of(feedback))


def test_the_student_the_take_and_the_teacher_have_a_page_each(full) -> None:
    student, take, teacher = full[1]
    assert "What went well" in student
    assert "What to do next" in student
    assert "Take care" in student
    assert "a changing note" in student
    assert "What you played" in take
    assert "For the teacher" in teacher
    assert "not a grade" in " ".join(teacher.split())


def test_the_teacher_has_blank_lines_of_four_levels(full) -> None:
    teacher = full[1][2]
    for word in ("Tone", "Story", "Interplay"):
        assert word in teacher
    assert teacher.count("now and then") == 3


def test_there_are_as_many_signs_on_the_staff_as_findings_are_told(full) -> None:
    feedback = full[0]
    lines = set_lines(marked_staff(feedback, title="take").score, width_mm=178.0)
    drawn = [shape for line in lines for shape in line.shapes if shape.kind == "sign"]
    assert len(drawn) == len(list(signed(feedback.findings)))


def test_no_sign_touches_another_or_a_note(full) -> None:
    for line in set_lines(marked_staff(full[0], title="take").score, width_mm=178.0):
        signs = [shape for shape in line.shapes if shape.kind == "sign"]
        others = [s for s in line.shapes if s.kind not in {"line", "barLine"}]
        for sign in signs:
            assert not [o for o in others if o is not sign and o.box.meets(sign.box)]
            assert line.staff.left <= sign.box.left
            assert sign.box.right <= line.staff.right + 1


@pytest.mark.slow
@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_a_page_is_as_large_as_its_paper_and_tagged(sheet: PaperName) -> None:
    document = pypdfium2.PdfDocument(paper_of(told(), sheet=sheet))
    wide = {"a4": 210 / 25.4 * 72, "letter": 612}[sheet]
    assert document[0].get_width() == pytest.approx(wide, abs=0.5)
    assert pdfium_c.FPDFCatalog_IsTagged(document.raw)


@pytest.mark.slow
def test_the_teachers_own_words_stand_in_the_place_of_ours() -> None:
    student, *_ = texts_of(paper_of(told(), words=("Listen to bar 5 with me on Monday.",)))
    assert "Listen to bar 5 with me" in student
    assert "What went well" not in student
    assert "Enclosures" in student


@pytest.mark.slow
def test_a_take_without_findings_has_no_empty_tables() -> None:
    teacher = texts_of(paper_of(replace(told(), changes=())))[2]
    assert "To mend" not in teacher
    assert "Craft" not in teacher


@pytest.mark.slow
def test_a_take_that_is_not_judged_says_why_and_asks_for_nothing() -> None:
    student = texts_of(paper_of(replace(told(*every_finding()), is_judged=False)))[0]
    assert "could not be judged" in student
    assert "the take is too loud" in student
    assert "What to do next" not in student


@pytest.mark.slow
@pytest.mark.parametrize("instrument", ["trombone", "flute"])
def test_the_picture_says_what_its_shapes_mean(instrument: str) -> None:
    picture = feedback_picture(told(*every_finding(), take=a_take(instrument)), title="take")
    assert "empty square: it is not heard" in " ".join(picture.notes)
    assert "word in a frame: something to mend" in " ".join(picture.notes)
    (svg, *_), _ = staff_page_files(picture, ".svg")
    assert svg.startswith(b"<?xml")
    assert "<desc>" in svg.decode()


@pytest.mark.slow
def test_equal_takes_give_equal_pages() -> None:
    assert paper_of(told()) == paper_of(told())
