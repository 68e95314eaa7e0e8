"""Other versions of a line, to be seen side by side: those of a few seeds that share least."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from halfstep.errors import BriefError
from halfstep.etude.line_edit import LineEdit, LineRewriting
from halfstep.etude.written_etude import Etude
from halfstep.services.edit_line import EditLine, LineReply, edit_line
from halfstep.services.request_fields import bars_of

SEEDS_TRIED = 5
"""Seeds from which the versions are taken."""
MOST_VERSIONS = 4


@dataclass(frozen=True, slots=True)
class LineVersions:
    """A request for other lines in the place of one that was edited.

    Attributes
    ----------
    etude : str or Path
        An etude stored as data: its text, or a file of it.
    edits : tuple of LineEdit or LineRewriting
    locked_bars : str or None
        Bars that all versions have: ``3,5-6``.
    versions : int
        How many are wanted, 1 to 4.
    degrees : bool
    """

    etude: str | Path
    edits: tuple[LineEdit | LineRewriting, ...] = ()
    locked_bars: str | None = None
    versions: int = 3
    degrees: bool = False


def line_versions(request: LineVersions) -> tuple[LineReply, ...]:
    """Versions that share the fewest bars with the line and with each other, most unlike first.

    Raises
    ------
    BriefError
        When the etude cannot be read, or no line keeps the rules around the bars that stand.
    """
    if not 1 <= request.versions <= MOST_VERSIONS:
        raise BriefError(f"`versions` {request.versions}: ask for 1 to {MOST_VERSIONS}")
    line = EditLine(request.etude, request.edits, request.degrees)
    stands = edit_line(line)
    bars = bars_of("locked_bars", request.locked_bars, stands.etude.analysis.chart)
    first = stands.etude.brief.seed + 1
    offers = [
        _rewritten(line, LineRewriting(seed, tuple(sorted(bars))))
        for seed in range(first, first + SEEDS_TRIED)
    ]
    chosen: list[LineReply] = []
    for _ in range(request.versions):
        others = [stands, *chosen]
        best = min(offers, key=lambda offer: _likeness(offer, others))
        offers.remove(best)
        chosen.append(best)
    return tuple(chosen)


def _rewritten(line: EditLine, rewriting: LineRewriting) -> LineReply:
    reply = edit_line(replace(line, edits=(*line.edits, rewriting)))
    if reply.refused:
        raise BriefError(reply.refused)
    return reply


def _likeness(offer: LineReply, others: Sequence[LineReply]) -> tuple[float, float]:
    """The largest share of bars with any of the others, and the mean."""
    shares = [shared_bars(offer.etude, other.etude) for other in others]
    return max(shares), sum(shares) / len(shares)


def shared_bars(etude: Etude, other: Etude) -> float:
    """The share of sounding bars in which two lines over one chart have the same notes."""
    pairs = [pair for pair in zip(_bars(etude), _bars(other), strict=True) if any(pair)]
    return sum(bar == bar_of_other for bar, bar_of_other in pairs) / len(pairs) if pairs else 0.0


def _bars(etude: Etude) -> list[tuple[object, ...]]:
    """The notes that sound in each bar, from its start."""
    placed = [(start, start + bar.beats) for bar, start in etude.analysis.chart.placed()]
    return [
        tuple(
            (note.onset - start, note.beats, note.pitch.midi)
            for note in etude.notes
            if note.pitch and start <= note.onset < end
        )
        for start, end in placed
    ]
