"""What should be said of a line that somebody has edited? Rules that it breaks, bar by bar.

Nothing is forbidden. Said are the rules of its step, its range among them, the notes that its
player does not know, and how well it tells its chords.

Conventions
-----------
- The places of the notes are read off the line itself. A rule that the line would break as it
  was written rests on what only the layout of its step knows, such as which bars take up a motif,
  and is not asked.
- A bar is named by its number in the form; 0 stands for the whole line.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from halfstep.errors import ReadError
from halfstep.etude.etude_notes import Approach, EtudeNote
from halfstep.etude.high_point import has_high_point
from halfstep.etude.palette import Palette, chord_palettes
from halfstep.etude.rule_check import Breach, breaches
from halfstep.etude.rules import HIGH_POINT
from halfstep.etude.slots import (
    Leads,
    Piece,
    Slot,
    closes_phrase,
    is_strong,
    phrase_ends,
    pieces,
    with_barrier,
)
from halfstep.etude.written_etude import Etude
from halfstep.harmony.line_figures import whole_figures
from halfstep.harmony.line_over_chords import LineNote
from halfstep.harmony.note_likelihoods import weight_at


class LineNotice(NamedTuple):
    """What should be said of a bar of a line, or of all of it where the bar is 0."""

    bar: int
    text: str


@dataclass(frozen=True, slots=True)
class LineCheck:
    """What an edited line is held against.

    Attributes
    ----------
    written : Etude
        The line as it was written.
    palettes : tuple of Palette or None
        Of its chords, over all notes.
    pieces : tuple of Piece
    unasked : frozenset of str
        The rules that it would break as it was written.
    """

    written: Etude
    palettes: tuple[Palette | None, ...]
    pieces: tuple[Piece, ...]
    unasked: frozenset[str] = frozenset()

    def notices(self, etude: Etude) -> tuple[LineNotice, ...]:
        """What the line breaks, in the order of its bars, and then what holds for all of it."""
        starts = [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]
        broken = (breach for breach in self.breaches(etude) if breach.rule not in self.unasked)
        texts = [(breach.note, f"breaks the rule “{breach.rule}”") for breach in broken]
        texts += [(note, "has a note that is not among those known") for note in _beyond(etude)]
        bars = ((bisect_right(starts, note.onset), text) for note, text in texts)
        notices = sorted({LineNotice(bar, f"bar {bar} {text}") for bar, text in bars})
        return (*notices, *_of_the_whole(etude, self.written))

    def breaches(self, etude: Etude) -> list[Breach]:
        """The rules that a line breaks, its places read off its notes; none over no chord."""
        chords = etude.analysis.chords
        notes = (n._replace(pitch=None) if chords[n.chord].silent else n for n in etude.notes)
        free = replace(etude, brief=replace(etude.brief, pinned=()), notes=tuple(notes))
        return breaches(free, self._slots(free))

    def _slots(self, etude: Etude) -> list[Slot]:
        """The place of each note."""
        ends = phrase_ends(etude.analysis, etude.brief)
        starts = [piece.start for piece in self.pieces]
        slots: list[Slot] = []
        entries: Counter[int] = Counter()
        for note in etude.notes:
            piece = self.pieces[max(0, bisect_right(starts, note.onset) - 1)]
            slot = _slot(note, piece, self.palettes[note.chord], ends)
            slots.append(slot._replace(entry=entries[note.chord]))
            entries[note.chord] += slot.palette is not None
        slots[-1] = slots[-1]._replace(last=slots[-1].palette is not None)
        return with_barrier(_leading(slots, etude.notes), etude.brief.barrier)


def line_check(written: Etude) -> LineCheck:
    """What the edits of a line are held against."""
    analysis = written.analysis
    every_note = replace(written.brief, limits=(0, 127), known=None)
    palettes = chord_palettes(analysis, every_note)
    check = LineCheck(written, palettes, tuple(pieces(analysis)))
    broken = {breach.rule for breach in check.breaches(written)}
    return replace(check, unasked=frozenset(broken))


def _beyond(etude: Etude) -> list[EtudeNote]:
    """Notes that the player does not know."""
    known = etude.brief.known
    if known is None:
        return []
    return [note for note in etude.notes if note.pitch and note.pitch.midi not in known]


def _of_the_whole(etude: Etude, before: Etude) -> Iterator[LineNotice]:
    analysis = etude.analysis
    if HIGH_POINT in etude.step.rules and has_high_point(analysis, before.notes):
        if not has_high_point(analysis, etude.notes):
            yield LineNotice(0, "the highest note no longer stands once, past the middle")
    least, tells = etude.step.least_outline, relative_outline_of(etude)
    if least is not None and tells is not None and tells < least:
        yield LineNotice(
            0,
            f"the line tells its chords less clearly than this step should: {tells:.2f} of what "
            f"a plain arpeggio tells, not {least:.2f}",
        )
    if before.ending and etude.ending is None:
        yield LineNotice(0, "the line no longer leads to its ending, which is left out")


def relative_outline_of(etude: Etude) -> float | None:
    """How well a line tells its chords, over the plain arpeggio; None where it cannot be said."""
    notes = [LineNote(n.onset, n.beats, n.pitch.midi) for n in etude.notes if n.pitch]
    try:
        return whole_figures(notes, etude.analysis.chart).relative
    except ReadError:  # a line of rests
        return None


def _slot(note: EtudeNote, piece: Piece, palette: Palette | None, ends: set[int]) -> Slot:
    if note.pitch is None or palette is None:
        return Slot(note.onset, note.beats, None, True, 0)
    return Slot(
        note.onset,
        note.beats,
        palette,
        is_strong(piece, note.onset, first=note.onset == piece.start),
        0,
        closes=closes_phrase(piece, ends) and note.end == piece.end,
        breath=note.breath,
        weight=weight_at(piece.bar.meter, float(note.onset - piece.bar_start)),
    )


_LEADS = {
    Approach.NONE: Leads.NOT,
    Approach.SCALE: Leads.SCALE_NEIGHBOUR,
    Approach.CHROMATIC: Leads.NEIGHBOUR,
    Approach.ENCLOSURE: Leads.AROUND_FIRST,
}


def _leading(slots: Sequence[Slot], notes: Sequence[EtudeNote]) -> list[Slot]:
    """The slots with how their notes lead on; the second of two around a note leads into it."""
    marked: list[Slot] = []
    for slot, note in zip(slots, notes, strict=True):
        leads = _LEADS[note.approach]
        if marked and leads is marked[-1].leads is Leads.AROUND_FIRST:
            leads = Leads.AROUND_SECOND
        marked.append(slot._replace(leads=leads) if slot.palette else slot)
    return marked
