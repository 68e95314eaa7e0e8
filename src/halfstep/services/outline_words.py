"""What do the figures of a line say? In sentences and rows, for a terminal and a notebook."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.harmony.outline import Arrival, Figures, Outline, OutlinedChange
from halfstep.part.places import place_of
from halfstep.progression.chart import Chart

WINDOW_HEAD = ("bars", "notes", "outline", "of step 1")
CHANGE_HEAD = ("bar", "beat", "change", "heard")


def summary(outline: Outline) -> Iterator[str]:
    """The whole line in sentences."""
    whole = outline.whole
    if whole.outline is None:
        yield f"outline: none, {whole.reason}"
    else:
        yield f"outline: {whole.outline:.2f} nats a note; a line that follows no chord has 0"
    if whole.relative is not None:
        yield f"of step 1: {whole.relative:.2f}, where the plain arpeggio of these chords has 1"
    elif whole.outline is not None:
        yield f"of step 1: none, {whole.reason}"
    judged = len(outline.judged)
    if judged:
        spelled = sum(bool(change.spelled) for change in outline.judged)
        yield f"changes: {spelled} of {judged} spelled on both sides"
    else:
        yield "changes: none that can be judged"


def window_rows(outline: Outline, chart: Chart) -> Iterator[list[str]]:
    """A row for every four bars, under `WINDOW_HEAD`."""
    for window in outline.windows:
        yield [_span(window, chart), str(window.notes), *_two(window)]


def _two(window: Figures) -> list[str]:
    if window.outline is None:
        return ["–", f"– ({window.reason})"]
    if window.relative is None:
        return [f"{window.outline:.2f}", f"– ({window.reason})"]
    return [f"{window.outline:.2f}", f"{window.relative:.2f}"]


def _span(window: Figures, chart: Chart) -> str:
    chorus, first = place_of(window.first_bar, chart)
    until, last = place_of(window.last_bar, chart)
    ahead = f"chorus {chorus}: " if until > 1 else ""
    return ahead + (f"{first}–{last}" if first != last or chorus != until else first)


def change_rows(outline: Outline, chart: Chart) -> Iterator[list[str]]:
    """A row for every change of chord, under `CHANGE_HEAD`."""
    several = outline.whole.last_bar > len(chart.form)
    for change in outline.changes:
        chorus, bar = place_of(change.bar, chart)
        place = f"chorus {chorus}: {bar}" if several else bar
        yield [place, f"{change.beat:.4g}", f"{change.old} → {change.new}", heard_text(change)]


def heard_text(change: OutlinedChange) -> str:
    """What was heard of a change, in words."""
    if change.arrival is Arrival.UNKNOWN:
        return f"cannot be said ({change.reason})"
    if change.arrival in {Arrival.ON_TIME, Arrival.NOT_HEARD}:
        return f"{'heard ' * (change.arrival is Arrival.ON_TIME)}{change.arrival}"
    return f"heard {_beats(abs(change.moved_beats))} {change.arrival}"


def _beats(count: float) -> str:
    """``half a beat``, ``1 beat``, ``2.5 beats``."""
    if count == 0.5:
        return "half a beat"
    return f"{count:.3g} beat{'s' * (count != 1)}"
