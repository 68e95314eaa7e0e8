"""What is printed of a take? A page for its player, the take with its signs, one for the teacher.

Everything arrives in finished words; this module engraves the music and lays out the data for
the template `feedback.typ`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

from halfstep.render.handout import LegendEntry, legend_data
from halfstep.render.picture_words import line_alts
from halfstep.render.score_pictures import STAFF_MM, draw_place_sign, draw_systems
from halfstep.render.typesetting import PAPERS, Paper, PaperName, picture_data, typeset
from halfstep.score import Score, SignShape

LARGE_STAFF_MM = 7.4
"""Of the music that a student is to play; common practice, no source."""


@dataclass(frozen=True, slots=True, kw_only=True)
class PaperThing:
    """A thing to do next: its words, and the music that is played for it.

    Attributes
    ----------
    title, happened, advice : str
    etude, manner : str
        What the music is, and its tempo and feel.
    files : str
        Where it is to be heard.
    score : Score
    """

    title: str
    happened: str
    advice: str
    etude: str
    manner: str
    files: str
    score: Score


@dataclass(frozen=True, slots=True)
class StripCell:
    """One place of a row: a shape, or a sign as text, and a word under it."""

    text: str
    shape: SignShape | str


@dataclass(frozen=True, slots=True)
class PaperStrip:
    """A row of shapes with its name."""

    name: str
    cells: tuple[StripCell, ...]


@dataclass(frozen=True, slots=True)
class PaperRow:
    """A row of the teacher's table."""

    title: str
    places: tuple[str, ...]
    sureness: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FeedbackPaper:
    """Everything on the pages, in the order it stands there.

    Attributes
    ----------
    title, player, facts : str
    words : tuple of str
        The teacher's own paragraphs, in the place of strength and things in words.
    strength : str
    things : tuple of PaperThing
    etude_legend : tuple of LegendEntry
        The marks on the music of these things.
    care : tuple of str
    take_title : str
    take : Score or None
        None where there is nothing to be read.
    legend : tuple of (SignShape, str)
        The shapes on the staff, and what each means.
    notes : tuple of str
        Under the take.
    changes, strip_legend : str
    passes : tuple of PaperStrip
    mend, craft : tuple of PaperRow
    doubts, not_judged : tuple of str
        What is not judged and why: for the player, and for the teacher.
    teacher_lines, levels : tuple of str
        What the teacher fills in, and the words of its boxes.
    teacher_note : str
    """

    title: str
    player: str
    facts: str
    words: tuple[str, ...]
    strength: str
    things: tuple[PaperThing, ...]
    etude_legend: tuple[LegendEntry, ...]
    care: tuple[str, ...]
    take_title: str
    take: Score | None
    legend: tuple[tuple[SignShape, str], ...]
    notes: tuple[str, ...]
    changes: str
    strip_legend: str
    passes: tuple[PaperStrip, ...]
    mend: tuple[PaperRow, ...]
    craft: tuple[PaperRow, ...]
    doubts: tuple[str, ...]
    not_judged: tuple[str, ...]
    teacher_lines: tuple[str, ...]
    levels: tuple[str, ...]
    teacher_note: str


def feedback_pdf(paper: FeedbackPaper, *, sheet: PaperName = "a4") -> bytes:
    """The pages as a tagged PDF (PDF/UA-1); equal papers give equal bytes."""
    return typeset("feedback.typ", _page_data(paper, PAPERS[sheet]))


def _page_data(paper: FeedbackPaper, sheet: Paper) -> dict[str, Any]:
    return {
        "title": paper.title,
        "player": paper.player,
        "facts": paper.facts,
        "paper": asdict(sheet),
        "words": list(paper.words),
        "strength": paper.strength,
        "things": [_thing_data(n, it, sheet) for n, it in enumerate(paper.things, start=1)],
        "etude_legend": [legend_data(entry) for entry in paper.etude_legend],
        "care": list(paper.care),
        "take_title": paper.take_title,
        "systems": _systems(paper.take, sheet, paper.take_title) if paper.take else [],
        "legend": [
            legend_data(LegendEntry(text, picture=draw_place_sign(shape)))
            for shape, text in paper.legend
        ],
        "notes": list(paper.notes),
        "changes": paper.changes,
        "strip_legend": paper.strip_legend,
        "passes": [_strip_data(strip) for strip in paper.passes],
        "mend": [_row_data(row) for row in paper.mend],
        "craft": [_row_data(row) for row in paper.craft],
        "doubts": list(paper.doubts),
        "not_judged": list(paper.not_judged),
        "teacher_lines": list(paper.teacher_lines),
        "levels": list(paper.levels),
        "teacher_note": paper.teacher_note,
    }


def _systems(
    score: Score, sheet: Paper, name: str, *, staff_mm: float = STAFF_MM
) -> list[dict[str, Any]]:
    """A score in lines, each with what a screen reader says for it."""
    pictures = draw_systems(score, width_mm=sheet.text_width_mm, staff_mm=staff_mm)
    alts = line_alts(score, pictures, name)
    return [picture_data(picture, alt) for picture, alt in zip(pictures, alts, strict=True)]


def _thing_data(number: int, thing: PaperThing, sheet: Paper) -> dict[str, Any]:
    return {
        "number": number,
        "title": thing.title,
        "happened": thing.happened,
        "advice": thing.advice,
        "etude": thing.etude,
        "manner": thing.manner,
        "files": thing.files,
        "systems": _systems(thing.score, sheet, thing.etude, staff_mm=LARGE_STAFF_MM),
    }


def _strip_data(strip: PaperStrip) -> dict[str, Any]:
    cells = [{"text": cell.text, "shape": str(cell.shape)} for cell in strip.cells]
    return {"name": strip.name, "cells": cells}


def _row_data(row: PaperRow) -> dict[str, Any]:
    return {"title": row.title, "places": list(row.places), "sureness": row.sureness}
