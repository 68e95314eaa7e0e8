"""How well a line spells the changes, as data; what cannot be said is null, with the reason."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from halfstep.harmony.outline import Figures, Outline, OutlinedChange
from halfstep.part.places import place_of
from halfstep.progression.chart import Chart

MEANING = "How well the line spells the changes, not how good the music is."


def outline_data(found: Outline, chart: Chart, notices: Sequence[str]) -> dict[str, Any]:
    """The figures as data; what cannot be said is null, with the reason."""
    spelled = found.spelled
    return {
        "title": chart.title,
        "meaning": MEANING,
        "line": _figures(found.whole, chart),
        "changes_judged": len(found.judged),
        "changes_spelled": None if spelled is None else round(spelled, 4),
        "windows": [_figures(window, chart) for window in found.windows],
        "changes": [_change(change, chart) for change in found.changes],
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


def _change(change: OutlinedChange, chart: Chart) -> dict[str, Any]:
    return {
        **_place(change.bar, chart),
        "beat": round(change.beat, 4),
        "old": str(change.old),
        "new": str(change.new),
        "spelled": change.spelled,
        "heard": str(change.arrival),
        "moved_beats": change.moved_beats,
        "reason": change.reason or None,
    }
