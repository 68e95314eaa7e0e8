"""What is printed of a running order? Steps with notes to speak from, and times to mind.

Everything arrives in finished words for the template `order.typ`.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import NamedTuple

from halfstep.render.typesetting import PAPERS, PaperName, typeset


class OrderCuePaper(NamedTuple):
    """A time, where in the music it is, and what to mind there."""

    time: str
    place: str
    words: str


@dataclass(frozen=True, slots=True)
class OrderStepPaper:
    """A step, in words.

    Attributes
    ----------
    heading, times : str
        What it is called, from when to when.
    rows : tuple of (str, str)
        A word, and what there is to say.
    cues : tuple of OrderCuePaper
        In order.
    """

    heading: str
    times: str
    rows: tuple[tuple[str, str], ...]
    cues: tuple[OrderCuePaper, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderPaper:
    """Everything on its pages, in the order it stands there.

    Attributes
    ----------
    title, heading, facts, note : str
    rows : tuple of (str, str)
        As those of a step, for all of them.
    steps : tuple of OrderStepPaper
    care : str
    """

    title: str
    heading: str
    facts: str
    note: str
    rows: tuple[tuple[str, str], ...]
    steps: tuple[OrderStepPaper, ...]
    care: str


def order_pdf(paper: OrderPaper, *, sheet: PaperName = "a4") -> bytes:
    """Its pages as a tagged PDF (PDF/UA-1); equal papers give equal bytes."""
    steps = [
        {
            "heading": step.heading,
            "times": step.times,
            "rows": [list(row) for row in step.rows],
            "cues": [cue._asdict() for cue in step.cues],
        }
        for step in paper.steps
    ]
    page = {
        "title": paper.title,
        "player": "",
        "heading": paper.heading,
        "facts": paper.facts,
        "note": paper.note,
        "rows": [list(row) for row in paper.rows],
        "care": paper.care,
        "steps": steps,
        "paper": asdict(PAPERS[sheet]),
    }
    return typeset("order.typ", page)
