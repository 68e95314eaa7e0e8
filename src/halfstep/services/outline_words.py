"""What do the figures of a line say? In sentences and rows, for a terminal and a notebook."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.harmony.chord_arrivals import HEARD, ChangeVerdict, ChordArrival
from halfstep.harmony.line_figures import Figures
from halfstep.harmony.outline import Outline
from halfstep.part.places import place_of
from halfstep.progression.chart import Chart

WINDOW_HEAD = ("bars", "notes", "how clear")
CHANGE_HEAD = ("bar", "beat", "change", "heard")


def summary(outline: Outline) -> Iterator[str]:
    """The whole line in sentences."""
    judged = len(outline.judged)
    count = sum(change.verdict in HEARD for change in outline.judged)
    changes = f"{count} of {judged} changes heard" if judged else "no change that can be judged"
    yield f"{clearness_beside(outline.whole)}; {changes}"


def clearness_beside(figures: Figures) -> str:
    """How clear the chords are, and beside what.

    >>> clearness_beside(Figures(1, 8, 40, outline=0.2, reference=0.4, relative=0.5))
    'half as clear as the plain arpeggio'
    """
    words = clearness(figures)
    beside = f" {'than' if words == _CLEARER else 'as'} the plain arpeggio"
    is_compared = (figures.relative or 0.0) >= _LEAST_COMPARED
    return f"{words}{beside * is_compared}"


_CLEARER, _LEAST_COMPARED = "clearer", 0.07
_CLEARNESS = (
    (1.1, _CLEARER),
    (0.9, "as clear"),
    (0.7, "nearly as clear"),
    (0.58, "two thirds as clear"),
    (0.42, "half as clear"),
    (0.29, "a third as clear"),
    (0.18, "a quarter as clear"),
    (_LEAST_COMPARED, "a tenth as clear"),
)
"""What a relative outline is called, from each figure up."""


def clearness(figures: Figures) -> str:
    """How clear the chords are in some bars, beside the plain arpeggio of the same chords.

    >>> clearness(Figures(1, 8, 40, outline=0.2, reference=0.4, relative=0.5))
    'half as clear'
    """
    if figures.relative is None:
        return f"cannot be said ({figures.reason})"
    words = (words for least, words in _CLEARNESS if figures.relative >= least)
    return next(words, "the notes do not follow the chords")


def window_rows(outline: Outline, chart: Chart) -> Iterator[list[str]]:
    """A row for every four bars, under `WINDOW_HEAD`."""
    for window in outline.windows:
        yield [_span(window, chart), str(window.notes), clearness(window)]


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


_PLAIN_WORDS = {
    ChangeVerdict.ON_TIME: "heard on time",
    ChangeVerdict.MISSED: "missed",
    ChangeVerdict.NOTHING_DIFFERS: "nothing differs",
}


def heard_text(change: ChordArrival) -> str:
    """What was heard of a change, in words."""
    if change.verdict is ChangeVerdict.NOT_JUDGED:
        return f"not judged ({change.reason})"
    if change.verdict in _PLAIN_WORDS:
        return _PLAIN_WORDS[change.verdict]
    return f"heard {_beats(abs(change.beats_late))} {change.verdict}"


def _beats(count: float) -> str:
    """To the nearest half: ``half a beat``, ``1 beat``, ``2½ beats``."""
    whole, half = divmod(round(2 * count), 2)
    if not whole:
        return "half a beat"
    return f"{whole}{'½' * half} beat{'s' * (whole + half > 1)}"
