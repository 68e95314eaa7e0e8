"""An etude of which only some bars go round: those bars as a piece of their own."""

from __future__ import annotations

from bisect import bisect_right
from dataclasses import replace
from fractions import Fraction

from halfstep.errors import BriefError
from halfstep.harmony.analysis import Analysis, analyse
from halfstep.part.transposed_part import part_for
from halfstep.progression.excerpt import WholeForm, excerpt
from halfstep.services.etude_reply import EtudeReply
from halfstep.services.spot_etudes import written_over


def looped_etude(reply: EtudeReply, loop: tuple[int, ...], *, title: str = "") -> EtudeReply:
    """The bars of an etude that go round, each with its scales as in the whole.

    Parameters
    ----------
    reply : EtudeReply
    loop : tuple of int
        The first and the last bar of the form, from 1; empty for all.
    title : str
        Of the bars by themselves; empty for that of the whole.

    Raises
    ------
    BriefError
        When the form has no such bars.
    """
    if not loop:
        return reply
    whole = reply.etude.analysis
    bars = _bars(loop, len(whole.chart.form))
    if len(bars) == len(whole.chart.form):
        return reply

    def scale_at(place: Fraction) -> str:
        return _scale_at(whole, place)

    chart = excerpt(
        whole.chart, bars, key=whole.home, title=title or whole.chart.title, scale_at=scale_at
    )
    analysis = analyse(chart, level=reply.etude.brief.level)
    notes = written_over(reply.etude.notes, whole.chart, bars, analysis)
    etude = replace(reply.etude, analysis=analysis, notes=notes, pickup=(), ending=None, notices=())
    part = part_for(analysis, reply.part.instrument)
    return replace(reply, etude=etude, part=part, whole=_whole_form(reply, bars[0]))


def _whole_form(reply: EtudeReply, first: int) -> WholeForm:
    """What the bars from the first on are of; a few of a few bars are of the whole still."""
    if reply.whole:
        return WholeForm(reply.whole.chart, reply.whole.first + first - 1)
    return WholeForm(reply.etude.analysis.chart, first)


def _bars(loop: tuple[int, ...], count: int) -> tuple[int, ...]:
    """The bars from the first to the last one.

    Raises
    ------
    BriefError
    """
    first, last = loop if len(loop) == 2 else (0, 0)
    if not 1 <= first <= last <= count:
        raise BriefError(f"`loop`: give the first and the last bar, from 1 to {count}")
    return tuple(range(first, last + 1))


def _scale_at(whole: Analysis, place: Fraction) -> str:
    """The kind of scale that the whole chart gives a place, by its name."""
    starts = [chord.span.start for chord in whole.chords]
    chord = whole.chords[max(0, bisect_right(starts, place) - 1)]
    return "" if chord.silent else chord.scale.mode.label
