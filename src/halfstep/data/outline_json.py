"""How well a line spells the changes, as data; what cannot be said is null, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from halfstep.data.documents import JsonForm
from halfstep.harmony.chord_arrivals import ChordArrival
from halfstep.harmony.line_figures import Figures
from halfstep.harmony.outline import Outline
from halfstep.part.places import place_of
from halfstep.progression.chart import Chart

OUTLINE_FORM = JsonForm("halfstep-outline", "the figures of a line")
MEANING = "How well the line spells the changes, not how good the music is."


def outline_data(outline: Outline, chart: Chart, notices: Sequence[str]) -> dict[str, Any]:
    """The figures as data; what cannot be said is null, with the reason."""
    spelled = outline.spelled
    return {
        **OUTLINE_FORM.head,
        "title": chart.title,
        "meaning": MEANING,
        "line": _figures(outline.whole, chart),
        "changes_judged": len(outline.judged),
        "changes_tested": len(outline.tested),
        "changes_spelled": None if spelled is None else round(spelled, 4),
        "windows": [_figures(window, chart) for window in outline.windows],
        "changes": [_change(change, chart) for change in outline.changes],
        "notices": list(notices),
    }


def _figures(figures: Figures, chart: Chart) -> dict[str, Any]:
    def rounded(figure: float | None) -> float | None:
        return None if figure is None else round(figure, 4)

    return {
        "first": _place(figures.first_bar, chart),
        "last": _place(figures.last_bar, chart),
        "notes": figures.notes,
        "outline": rounded(figures.outline),
        "reference": rounded(figures.reference),
        "relative": rounded(figures.relative),
        "reason": figures.reason or None,
    }


def _place(bar: int, chart: Chart) -> dict[str, Any]:
    chorus, label = place_of(bar, chart)
    return {"chorus": chorus, "bar": label}


def _change(change: ChordArrival, chart: Chart) -> dict[str, Any]:
    return {
        **_place(change.bar, chart),
        "beat": round(change.beat, 4),
        "old": str(change.old),
        "new": str(change.new),
        "spelled": change.spelled,
        "heard": str(change.verdict),
        "beats_late": change.beats_late,
        "reason": change.reason or None,
    }
