"""What does the page of a line show? Its music, its notes in words, and what should be said."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from functools import partial
from itertools import groupby

from halfstep.app.tasks.line_tasks import OpenLine
from halfstep.app.web.engraving import engraved_warm, in_ink
from halfstep.app.web.page_words import gettext, noted
from halfstep.data.line_json import read_beats
from halfstep.etude.bar_rhythms import figures_of
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.line_check import LineNotice
from halfstep.etude.line_edit import EditAction
from halfstep.meter import count_in_words
from halfstep.part.facts import playing_facts
from halfstep.progression.chart import Bar
from halfstep.services.edit_line import LineReply


@dataclass(frozen=True, slots=True)
class ShownAction:
    """A button that edits a note: what it sends, its words, and the key that presses it."""

    action: EditAction
    words: str
    key: str = ""


ACTIONS = (
    (noted("Pitch"), (
        ShownAction(EditAction.STEP_UP, noted("Step up"), "ArrowUp"),
        ShownAction(EditAction.STEP_DOWN, noted("Step down"), "ArrowDown"),
        ShownAction(EditAction.CHORD_TONE_UP, noted("Chord tone up"), "Shift+ArrowUp"),
        ShownAction(EditAction.CHORD_TONE_DOWN, noted("Chord tone down"), "Shift+ArrowDown"),
        ShownAction(EditAction.HALF_STEP_UP, noted("Half step up"), "Alt+ArrowUp"),
        ShownAction(EditAction.HALF_STEP_DOWN, noted("Half step down"), "Alt+ArrowDown"),
        ShownAction(EditAction.OCTAVE_UP, noted("Octave up"), "PageUp"),
        ShownAction(EditAction.OCTAVE_DOWN, noted("Octave down"), "PageDown"),
    )),
    (noted("Time"), (
        ShownAction(EditAction.SPLIT, noted("Split"), "s"),
        ShownAction(EditAction.JOIN, noted("Join with the next"), "j"),
        ShownAction(EditAction.TIE, noted("Tie to the next"), "t"),
        ShownAction(EditAction.LONGER, noted("Longer"), "l"),
        ShownAction(EditAction.SHORTER, noted("Shorter"), "k"),
        ShownAction(EditAction.REST, noted("Make it a rest"), "r"),
        ShownAction(EditAction.NOTE, noted("Make the rest a note"), "n"),
    )),
)  # fmt: skip
"""Everything that is done to one note, in groups."""

ROOMS_MM = {250: 8.5, 92: 6.0}
"""Room for a line of music on a desk and on a phone, with the height of a staff."""
VERSION_MM, VERSION_STAFF_MM = 92.0, 6.0
"""Room for a line of a version that stands beside others, and the height of its staff."""


@dataclass(frozen=True, slots=True)
class NamedNote:
    """A note or rest in words.

    Attributes
    ----------
    at : str
        Its place, as an edit calls it.
    words : str
        ``bar 3 beat 2: E♭5``.
    """

    at: str
    words: str


@dataclass(frozen=True, slots=True)
class NamedBar:
    """A bar with its notes in words."""

    number: int
    notes: tuple[NamedNote, ...]
    is_locked: bool


@dataclass(frozen=True, slots=True)
class ShownLine:
    """A line as its page shows it.

    Attributes
    ----------
    title, facts : str
    systems : tuple of str
        The lines of music.
    bars : tuple of NamedBar
    at : str
        The place of the note that is chosen.
    bar : int
        The bar that it stands in.
    figures : tuple of (str, str)
        Other rhythms of that bar: what is sent, and what is shown.
    notices : tuple of LineNotice
    locked : str
        The bars that stand, in words; empty for none.
    """

    title: str
    facts: str
    systems: tuple[str, ...]
    bars: tuple[NamedBar, ...]
    at: str
    bar: int
    figures: tuple[tuple[str, str], ...]
    notices: tuple[LineNotice, ...]
    locked: str


def shown_line(line: OpenLine, *, at: str, room_mm: int) -> ShownLine:
    """A line as its page shows it, with a note chosen."""
    reply = line.reply
    bars = tuple(_named_bars(reply, line.locked))
    chosen = _chosen(reply, at)
    bar = _bar_of(reply, chosen.onset)
    brief = reply.etude.brief
    return ShownLine(
        reply.etude.step.heading,
        playing_facts(reply.part, brief.level, tempo_bpm=brief.tempo_bpm, manner=str(brief.feel)),
        drawn(reply, room_mm=room_mm, staff_mm=ROOMS_MM[room_mm], locked=line.locked),
        bars,
        str(chosen.onset),
        bar.number,
        tuple(_figures(reply, bar)),
        reply.notices,
        _in_words(line.locked),
    )


# Music


def drawn(
    reply: LineReply, *, room_mm: float, staff_mm: float, locked: tuple[int, ...] = ()
) -> tuple[str, ...]:
    """The lines of music as SVG in the page's own ink, bars that stand marked as such."""
    pictures = engraved_warm(partial(reply.pictures, width_mm=room_mm, staff_mm=staff_mm))
    return tuple(_with_locks(in_ink(picture), locked) for picture in pictures)


def _with_locks(svg: str, locked: tuple[int, ...]) -> str:
    for bar in locked:
        svg = svg.replace(f'data-bar="{bar}"', f'data-bar="{bar}" class="locked"')
    return svg


# Words


def _named_bars(reply: LineReply, locked: tuple[int, ...]) -> Iterator[NamedBar]:
    etude = reply.etude
    part = reply.part.of_line((*etude.pickup, *etude.notes))
    placed = [(bar, start) for bar, start in etude.analysis.chart.placed() if bar.number >= 1]
    starts = [start for _, start in placed]
    for place, notes in groupby(etude.notes, lambda n: bisect_right(starts, n.onset) - 1):
        bar, start = placed[place]
        named = tuple(
            NamedNote(
                str(note.onset),
                gettext(
                    "bar %(bar)s %(beat)s: %(note)s",
                    bar=bar.number,
                    beat=_beat(note.onset - start, bar),
                    note=str(part.pitch(note) or gettext("rest")),
                ),
            )
            for note in notes
        )
        yield NamedBar(bar.number, named, bar.number in locked)


def _beat(at: Fraction, bar: Bar) -> str:
    """Where in its bar a note begins, as it is counted; closer than players count in numbers."""
    beat = at / bar.meter.pulse_beats + 1
    if beat.denominator == 1 or (beat.denominator == 2 and not bar.meter.compound):
        return "on " * (beat.denominator == 2) + count_in_words(beat)
    number = f"{float(beat):.3g}"
    return gettext("beat %(beat)s", beat=number)


def _chosen(reply: LineReply, at: str) -> EtudeNote:
    """The note that begins at a place or sounds there; the first one where none is said."""
    notes = reply.etude.notes
    sounding = next((note for note in notes if note.pitch), notes[0])
    try:
        place = read_beats(at) if at else sounding.onset
    except (ValueError, ZeroDivisionError):
        place = sounding.onset
    return notes[max(0, bisect_right([note.onset for note in notes], place) - 1)]


def _bar_of(reply: LineReply, at: Fraction) -> Bar:
    chart = reply.etude.analysis.chart
    placed = [(bar, start) for bar, start in chart.placed() if bar.number >= 1]
    return placed[bisect_right([start for _, start in placed], at) - 1][0]


def _figures(reply: LineReply, bar: Bar) -> Iterator[tuple[str, str]]:
    brief = reply.etude.brief
    for figure in figures_of(bar.meter, brief.level, brief.feel):
        if sum(figure, Fraction(0)) == bar.beats:
            yield " ".join(map(str, figure)), " ".join(map(_length_words, figure))


_PARTS = {Fraction(1, 2): "½", Fraction(1, 3): "⅓", Fraction(2, 3): "⅔", Fraction(1, 4): "¼",
          Fraction(3, 4): "¾"}  # fmt: skip


def _length_words(beats: Fraction) -> str:
    """A length in quarter notes: ``1½``."""
    whole, part = divmod(beats, 1)
    return f"{whole or ''}{_PARTS.get(part, '') if part else ''}" or str(beats)


def _in_words(bars: tuple[int, ...]) -> str:
    """``bars 1, 2 and 8``."""
    from halfstep.etude.etude_words import bars_in_words

    return bars_in_words(bars) if bars else ""
