"""A chart as it is played, as plain lists and dictionaries: in a lesson, an etude, a sound file.

Places and lengths are quarter notes as exact fractions in text; title and tempo stand beside it
where it is stored.
"""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction
from typing import Any

from halfstep.meter import parse_meter
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.key import parse_key
from halfstep.progression.symbol import parse_symbol


def played_chart_data(chart: Chart) -> dict[str, Any]:
    """The bars in the order they are played."""
    return {
        "key": chart.key.ascii if chart.key else None,
        "meter": str(chart.meter),
        "beats": str(chart.beats),
        "pickup_beats": str(chart.pickup_beats),
        "bars": [
            {
                "number": bar.number,
                "written": bar.written,
                "meter": str(bar.meter),
                **({"grouping": list(bar.meter.grouping)} if bar.meter.grouping else {}),
                **({"section": bar.section} if bar.section else {}),
                **({"time": bar.time} if bar.time > 1 else {}),
                "start": str(start),
                "beats": str(bar.beats),
                "chords": list(map(_chord_data, bar.chords)),
            }
            for bar, start in chart.placed()
        ],
    }


def _chord_data(chord: ChordAt) -> dict[str, Any]:
    symbol = chord.symbol
    data = {"at": str(chord.at), "typed": symbol.typed, "symbol": symbol.ascii}
    return {**data, "scale": chord.scale} if chord.scale else data


def read_played_chart(data: dict[str, Any]) -> Chart:
    """The chart of `played_chart_data`, without its title.

    Raises
    ------
    KeyError, TypeError, ValueError, ZeroDivisionError, ReadError
        When it is not as it was written.
    """
    chart = Chart(
        "", tuple(map(_read_bar, data["bars"])), parse_key(data["key"]) if data["key"] else None
    )
    if not chart.form or any(bar.beats <= 0 for bar in chart.bars):
        raise ValueError("no bars")
    return chart


def _read_bar(data: dict[str, Any]) -> Bar:
    return Bar(
        int(data["number"]),
        replace(parse_meter(data["meter"]), grouping=tuple(map(int, data.get("grouping", ())))),
        Fraction(data["beats"]),
        tuple(map(_read_chord, data["chords"])),
        int(data["written"]),
        int(data.get("time", 1)),
        str(data.get("section", "")),
    )


def _read_chord(data: dict[str, Any]) -> ChordAt:
    return ChordAt(parse_symbol(data["symbol"]), Fraction(data["at"]), str(data.get("scale", "")))
