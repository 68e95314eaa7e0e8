"""What is heard before bar 1? A count-in, and the band's way there where it is asked for."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from halfstep.backing import BandIntro, Style, band_intro, count_in, count_in_bars
from halfstep.played import PlayedPart
from halfstep.progression.chart import Chart


@dataclass(frozen=True, slots=True)
class LeadIn:
    """What precedes the first chorus.

    Attributes
    ----------
    beats : Fraction
        How long it lasts.
    clicks : PlayedPart
        The count-in.
    intro : tuple of PlayedPart
        What the band plays behind it; nothing where it is not led in.
    """

    beats: Fraction
    clicks: PlayedPart
    intro: tuple[PlayedPart, ...] = ()


def lead_in(
    chart: Chart,
    *,
    style: Style,
    tempo_bpm: float,
    seed: int,
    bars: int | None = None,
    intro_bars: int = 0,
    band: Sequence[PlayedPart] = (),
) -> LeadIn:
    """The count-in of a chart, and its intro.

    Parameters
    ----------
    chart : Chart
    style : Style
    tempo_bpm : float
        Pulses a minute.
    seed : int
    bars : int or None
        1 or 2; None takes as many as `halfstep.backing.count_in_bars` says.
    intro_bars : int
        0, 2 or 4.
    band : sequence of PlayedPart
        What the intro leads to.
    """
    meter = chart.meter
    pickup = Fraction(0) if intro_bars else chart.pickup_beats  # it lies in the intro then
    counted = bars or count_in_bars(meter, tempo_bpm=tempo_bpm, pickup_beats=pickup)
    intro = BandIntro(Fraction(0), ())
    if intro_bars:
        intro = band_intro(
            chart, style=style, bars=intro_bars, seed=seed, tempo_bpm=tempo_bpm, band=band
        )
    clicks = count_in(
        meter,
        bars=counted,
        end=-intro.beats,
        pickup_beats=pickup,
        tempo_bpm=tempo_bpm,
    )
    return LeadIn(counted * meter.bar_beats + intro.beats, clicks, intro.parts)
