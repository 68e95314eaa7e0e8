"""What is heard before beat 0? Clicks on the felt pulses, by groups; and a click alone.

One bar counts in. Two do where one would be over in a second and a half, or where a pickup of
more than a pulse begins in it; of two bars the first is counted by its groups alone: one and
three, then all four. Under a pickup the clicks go on, softer.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from halfstep.backing.bar_layout import bar_groups, bar_layouts, places
from halfstep.backing.drum_kit import HIGH_BLOCK, SIDE_STICK, STANDARD_KIT, Stroke
from halfstep.meter import Meter, clock_for
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Chart

_SHORTEST_COUNT_S = 1.5
_CLOSEST_CLICKS_S = 0.18
"""Clicks that come faster are heard as a rattle; groups alone are clicked then."""
_FIRST, _HEAVY, _LIGHT, _DOUBLED = 116, 104, 92, 80
_UNDER_PICKUP = 24
"""How much softer clicks are while somebody plays."""


def count_in_bars(meter: Meter, *, tempo_bpm: float, pickup_beats: Fraction = Fraction(0)) -> int:
    """How many bars count in, one or two.

    >>> count_in_bars(Meter(4, 4), tempo_bpm=120), count_in_bars(Meter(4, 4), tempo_bpm=240)
    (1, 2)
    """
    bar_s = float(meter.bar_beats) * clock_for(meter, tempo_bpm).beat_s
    return 2 if bar_s < _SHORTEST_COUNT_S or pickup_beats > meter.pulse_beats else 1


def count_in(
    meter: Meter,
    *,
    bars: int = 1,
    end: Fraction = Fraction(0),
    pickup_beats: Fraction = Fraction(0),
    tempo_bpm: float | None = None,
) -> PlayedPart:
    """Clicks before beat 0; they belong to the drums.

    Parameters
    ----------
    meter : Meter
    bars : int
        1 or 2, see `count_in_bars`.
    end : Fraction
        Where the count ends: beat 0, or where an intro begins.
    pickup_beats : Fraction
        Length of the pickup before the end.
    tempo_bpm : float or None
        Pulses a minute; None clicks every pulse however fast.
    """
    clicks: list[Stroke] = []
    for number in range(bars, 0, -1):
        start = end - number * meter.bar_beats
        thin = number == 2 or not _clickable(meter, tempo_bpm)
        clicks += _bar_clicks(meter, start, meter.bar_beats, thin=thin)
    loud = (
        click._replace(velocity=click.velocity - _UNDER_PICKUP * (click.at >= end - pickup_beats))
        for click in clicks
    )
    return _part("drums", loud, meter)


def click_part(chart: Chart, choruses: int = 1, *, tempo_bpm: float | None = None) -> PlayedPart:
    """A click for a block of choruses: the pulses of each bar by its groups, and no band."""
    clicks: list[Stroke] = []
    for bar in bar_layouts(chart, choruses):
        thin = not _clickable(bar.meter, tempo_bpm)
        clicks += _bar_clicks(bar.meter, bar.start, bar.beats, thin=thin)
    return _part("click", clicks, chart.meter)


def _clickable(meter: Meter, tempo_bpm: float | None) -> bool:
    """True where every pulse can be heard for itself."""
    if tempo_bpm is None:
        return True
    return float(meter.pulse_beats) * clock_for(meter, tempo_bpm).beat_s >= _CLOSEST_CLICKS_S


def _bar_clicks(meter: Meter, start: Fraction, beats: Fraction, *, thin: bool) -> Iterator[Stroke]:
    """Every pulse, or thinly the groups alone; groups heavier, the downbeat double."""
    heavy = {start + group.start for group in bar_groups(meter, beats)}
    pulses = list(places(start, start + beats, meter.pulse_beats))
    yield Stroke(start, HIGH_BLOCK, _DOUBLED)
    for pulse in _thinned(pulses, sorted(heavy)) if thin else pulses:
        weight = _FIRST if pulse == start else _HEAVY if pulse in heavy else _LIGHT
        yield Stroke(pulse, SIDE_STICK, weight)


def _thinned(pulses: list[Fraction], groups: list[Fraction]) -> list[Fraction]:
    """The groups; every other pulse, or the first, where a group is no more than a pulse."""
    if len(groups) < len(pulses):
        return groups
    return pulses[:1] if len(pulses) % 2 else pulses[::2]


def _part(name: str, clicks: Iterator[Stroke] | list[Stroke], meter: Meter) -> PlayedPart:
    beats = meter.pulse_beats / 4
    notes = tuple(PlayedNote(at, beats, key, velocity) for at, key, velocity in clicks)
    return PlayedPart(name, STANDARD_KIT, True, notes)
