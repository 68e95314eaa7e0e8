"""A written line edited note by note, or written anew but for the bars that stand.

A line that is edited is its etude as it was stored, and the list of edits: the last one undone is
the list without it. What is kept between two calls only saves the way there.
"""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import dataclass, replace
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.errors import BriefError
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.etude_writer import write_etude
from halfstep.etude.line_check import LineNotice, relative_outline_of
from halfstep.etude.line_edit import EditRefused, LineChange, LineEdit, LineRewriting
from halfstep.etude.line_edits import edited
from halfstep.etude.offers import Impossible
from halfstep.etude.written_etude import Etude
from halfstep.notation import onsets as onsets_in
from halfstep.notation import sounding_beats
from halfstep.part.transposed_part import Part
from halfstep.progression.excerpt import WholeForm
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.opened_etude import OpenedEtude, opened_etude

if TYPE_CHECKING:
    from halfstep.render.score_pictures import Picture
    from halfstep.score import Score

MOST_EDITS = 500
"""Of one line; what was done before is stored with it then."""
_KEPT, _STRIDE = 2 * MOST_EDITS, 100


@dataclass(frozen=True, slots=True)
class EditLine:
    """A request for a line as it is after some edits.

    Attributes
    ----------
    etude : str or Path
        An etude stored as data: its text, or a file of it.
    edits : tuple of LineEdit or LineRewriting
        In the order in which they were made.
    degrees : bool
        Degrees under the notes.
    """

    etude: str | Path
    edits: tuple[LineEdit | LineRewriting, ...] = ()
    degrees: bool = False


@dataclass(frozen=True, slots=True)
class LineReply:
    """A line after its edits.

    Attributes
    ----------
    etude : Etude
        In concert pitch.
    part : Part
        How its player reads it.
    degrees : bool
    edits : tuple of LineEdit or LineRewriting
        Those that were made.
    refused : str
        Why the first of the others could not be made; empty where all were.
    notices : tuple of LineNotice
        What breaks a rule of the step, bar by bar.
    outline : float or None
        How well the line tells its chords, over the plain arpeggio; None where it cannot be said.
    whole : WholeForm or None
        What its chart has a few bars of; None where it is all that there is.
    """

    etude: Etude
    part: Part
    degrees: bool
    edits: tuple[LineChange, ...] = ()
    refused: str = ""
    notices: tuple[LineNotice, ...] = ()
    outline: float | None = None
    whole: WholeForm | None = None

    @property
    def written(self) -> EtudeReply:
        """The line as an etude that was written, for its files, its sound and its sheet."""
        texts = tuple(notice.text for notice in self.notices)
        return EtudeReply(self.etude, self.part, None, self.degrees, texts, whole=self.whole)

    def score(self) -> Score:
        """The line on its player's staff."""
        return self.written.score()

    def data(self) -> str:
        """The line as stored data, to be edited on."""
        return self.written.file(".json").data.decode()

    def pictures(self, *, width_mm: float, staff_mm: float | None = None) -> tuple[Picture, ...]:
        """The lines of music, each note, bar and chord named by its place.

        A note is called by the beat at which it begins, counted from the start of bar 1 (``13/2``),
        as an edit calls it; a bar by its number, a chord by its beat.
        """
        from halfstep.render.score_pictures import STAFF_MM, draw_systems

        score = self.score()
        names = drawn_names(score, self.etude)
        return draw_systems(score, width_mm=width_mm, staff_mm=staff_mm or STAFF_MM, names=names)


def edit_line(request: EditLine) -> LineReply:
    """Edit a line.

    An edit that cannot be made ends the list: the reply says why, and has those before it.

    Raises
    ------
    BriefError
        When the etude cannot be read, or there are too many edits.
    """
    if len(request.edits) > MOST_EDITS:
        raise BriefError(f"`edits`: {MOST_EDITS} at most; store the line and edit that on")
    opened = opened_etude(request.etude)
    etude, edits, refused = _after_edits(opened, request.edits)
    return LineReply(
        etude,
        opened.part,
        request.degrees,
        edits,
        refused,
        *_said(opened.text, edits),
        opened.whole,
    )


# Edits


def _after_edits(
    opened: OpenedEtude, edits: tuple[LineChange, ...]
) -> tuple[Etude, tuple[LineChange, ...], str]:
    """The etude after the edits that can be made, these edits, and why the next cannot."""
    try:
        for stop in range(_STRIDE, len(edits), _STRIDE):  # so that no call goes deep
            _after(opened.text, edits[:stop])
        return _after(opened.text, edits), edits, ""
    except EditRefused:
        pass
    for stop in range(1, len(edits) + 1):
        try:
            _after(opened.text, edits[:stop])
        except EditRefused as refused:
            return _after(opened.text, edits[: stop - 1]), edits[: stop - 1], refused.marked_text
    raise AssertionError("an edit was refused once and not again")


@lru_cache(_KEPT)
def _after(text: str, edits: tuple[LineChange, ...]) -> Etude:
    """Kept, so that one more edit is one edit, and one undone is none."""
    if not edits:
        return opened_etude(text).etude
    before, edit = _after(text, edits[:-1]), edits[-1]
    if isinstance(edit, LineRewriting):
        return _rewritten(before, edit, opened_etude(text).part)
    return edited(before, edit)


@lru_cache(_KEPT)
def _said(text: str, edits: tuple[LineChange, ...]) -> tuple[tuple[LineNotice, ...], float | None]:
    """What is said of the line after its edits, and how well it tells its chords."""
    etude = _after(text, edits)
    return opened_etude(text).check.notices(etude), relative_outline_of(etude)


# Bars that stand


def _rewritten(etude: Etude, edit: LineRewriting, part: Part) -> Etude:
    """The etude with other notes outside the bars that stand."""
    if edit.seed < 0:
        raise EditRefused(f"seed {edit.seed}: give a whole number, 0 or more")
    pinned = _notes_in(etude, frozenset(edit.bars))
    brief = replace(etude.brief, seed=edit.seed, pinned=pinned)
    try:
        return write_etude(etude.step, etude.analysis, brief)
    except Impossible as refused:
        raise EditRefused(refused.sentence(part)) from None


def _notes_in(etude: Etude, bars: frozenset[int]) -> tuple[EtudeNote, ...]:
    """The notes that sound in some bars, whole."""
    placed = etude.analysis.chart.placed()
    spans = [(start, start + bar.beats) for bar, start in placed if bar.number in bars]
    return tuple(
        note
        for note in etude.notes
        if any(note.onset < end and start < note.end for start, end in spans)
    )


# Names of what is drawn


def drawn_names(score: Score, etude: Etude) -> dict[str, str]:
    """What a page calls the bars, notes and chords of a drawn line, by their ids in the drawing.

    What is tied has the name of the note that it is tied from.
    """
    starts = {bar.number: start for bar, start in etude.analysis.chart.placed()}
    starts[len(etude.analysis.chart.form) + 1] = etude.analysis.chart.beats
    onsets = [note.onset for note in etude.every_note]
    names = {}
    for place, bar in enumerate(score.bars):
        start = starts.get(bar.number, -sounding_beats(bar))
        names[f"b-{place}"] = str(bar.number)
        for number, chord in enumerate(bar.chords):
            names[f"c-{place}-{number}"] = str(start + chord.at)
        for number, onset in enumerate(onsets_in(bar)):
            at = bisect_right(onsets, start + onset) - 1
            names[f"n-{place}-{number}"] = str(onsets[at] if at >= 0 else start + onset)
    return names
