"""A take that was judged as data, pages and pictures, with what to play next."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from halfstep.data.documents import json_text
from halfstep.data.feedback_json import StoredNext, feedback_data, read_feedback
from halfstep.errors import BriefError, ReadError
from halfstep.etude.step import Step
from halfstep.feedback.judge import Feedback
from halfstep.files import whole_folder
from halfstep.part.take_part import WrittenTake
from halfstep.services.feedback_words import clearness_words
from halfstep.services.request_fields import FileMade, Progress, no_progress, nobody_asks
from halfstep.services.spot_etudes import (
    NEXT_STEM,
    ROUNDS,
    SpotEtude,
    next_names,
    spot_etudes,
    stored_nexts,
)
from halfstep.services.take_evidence import NOTHING_SHOWN, TakeEvidence

if TYPE_CHECKING:
    from halfstep.lesson.feedback_pages import PlayedNext
    from halfstep.render.typesetting import PaperName

FEEDBACK_STEM = "feedback"


@dataclass(frozen=True, slots=True)
class FeedbackReply:
    """A take judged.

    Attributes
    ----------
    feedback : Feedback
    written : WrittenTake
        What was heard.
    notices : tuple of str
        What makes the take hard to hear or to judge.
    played_step : Step or None
        The step whose etude the take is; None where it is improvised.
    words : tuple of str
        The teacher's own, a paragraph each.
    paper : {'a4', 'letter'}
    shown : TakeEvidence
        What the take shows of the program's course.
    """

    feedback: Feedback
    written: WrittenTake
    notices: tuple[str, ...]
    played_step: Step | None = None
    words: tuple[str, ...] = ()
    paper: PaperName = "a4"
    shown: TakeEvidence = NOTHING_SHOWN

    def data(self, nexts: Sequence[StoredNext] | None = None) -> dict[str, Any]:
        """All that is said of the take, as plain lists and dictionaries.

        Parameters
        ----------
        nexts : sequence of StoredNext, optional
            The things to do next, where they are written already.
        """
        if nexts is None:
            etudes = spot_etudes(self.feedback, self.played_step)
            nexts = stored_nexts(etudes, with_files=False)
        return feedback_data(
            self.feedback,
            self.written,
            self.notices,
            nexts,
            self.words,
            evidence=self.shown.evidence,
        )

    def write(
        self,
        folder: Path,
        *,
        progress: Progress = no_progress,
        made: FileMade = nobody_asks,
    ) -> tuple[Path, ...]:
        """Write all files into a folder, or none, and return them.

        Parameters
        ----------
        folder : Path
        progress : callable
        made : callable
            Given each file by its name as soon as it is made; the data come first.

        Raises
        ------
        BriefError
            When it cannot be written to, or holds feedback on another take.
        """
        earlier = _earlier_files(folder, self.written.title)
        names = []
        with whole_folder(folder) as work:
            for name, content in _files(self, progress):
                (work / name).write_bytes(content)
                names.append(name)
                made(name, content)
        for name in earlier - {*names}:
            (folder / name).unlink(missing_ok=True)
        return tuple(folder / name for name in names)

    def _repr_html_(self) -> str:
        from halfstep.services.notebook import feedback_html

        return feedback_html(self.feedback, self.written, self.notices)


_OURS = re.compile(rf"{FEEDBACK_STEM}(-\d+)?\.(svg|png|pdf|json)|{NEXT_STEM}-\d+\.[a-z0-9]+")
"""The names of files of feedback."""


def _earlier_files(folder: Path, title: str) -> set[str]:
    """The files of feedback on the same take, which new ones take the place of.

    Raises
    ------
    BriefError
        When the folder holds feedback on another take, or a file of that name that is none.
    """
    data = folder / f"{FEEDBACK_STEM}.json"
    if not data.is_file():
        return set()
    try:
        stored = read_feedback(data)
    except ReadError:
        raise BriefError(f"{data} is no feedback of ours; choose another `folder`") from None
    if stored.title != title:
        raise BriefError(
            f"{folder} holds feedback on another take, {stored.title!r}; choose another `folder`"
        )
    return {path.name for path in folder.iterdir() if _OURS.fullmatch(path.name)}


def _files(reply: FeedbackReply, progress: Progress) -> Iterator[tuple[str, bytes]]:
    """Every file by its name."""
    etudes = spot_etudes(reply.feedback, reply.played_step)
    whole = len(etudes) + 2
    yield f"{FEEDBACK_STEM}.json", json_text(reply.data(stored_nexts(etudes))).encode()
    yield f"{FEEDBACK_STEM}.pdf", _pages(reply, etudes)
    progress(1 / whole, "the pages")
    yield from _pictures(reply)
    for number, etude in enumerate(etudes, start=1):
        progress((number + 1) / whole, etude.label)
        sheet, sound = next_names(number)
        yield sheet, etude.reply.sheet(reply.paper)
        yield sound, etude.reply.sound(times=ROUNDS).data


def _pages(reply: FeedbackReply, etudes: Sequence[SpotEtude]) -> bytes:
    from halfstep.lesson.feedback_pages import feedback_paper
    from halfstep.render.feedback_paper import feedback_pdf

    nexts = [_played(number, etude) for number, etude in enumerate(etudes, start=1)]
    paper = feedback_paper(
        reply.feedback,
        nexts,
        title=reply.written.title,
        clearness=clearness_words(reply.feedback),
        words=reply.words,
    )
    return feedback_pdf(paper, sheet=reply.paper)


def _played(number: int, etude: SpotEtude) -> PlayedNext:
    from halfstep.lesson.feedback_pages import PlayedNext
    from halfstep.lesson.titles import step_manner

    return PlayedNext(
        etude.thing,
        etude.label,
        step_manner(etude.reply.brief),
        " · ".join(next_names(number)) + ", four times round",
        etude.reply.etude,
        etude.reply.score(),
    )


def _pictures(reply: FeedbackReply) -> Iterator[tuple[str, bytes]]:
    """The take with its signs; where it needs several pages, each is a file."""
    if not reply.feedback.take.notes:
        return
    from halfstep.lesson.feedback_pages import feedback_picture
    from halfstep.render.page_file import png_bytes
    from halfstep.render.staff_page import staff_page_svgs

    pages = staff_page_svgs(feedback_picture(reply.feedback, title=reply.written.title))
    for number, page in enumerate(pages, start=1):
        stem = f"{FEEDBACK_STEM}{f'-{number}' * (number > 1)}"
        yield f"{stem}.svg", page.encode()
        yield f"{stem}.png", png_bytes(page)
