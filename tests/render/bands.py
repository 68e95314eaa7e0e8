"""Bands of invented charts as sound, for the tests beside it."""

from __future__ import annotations

from fractions import Fraction
from functools import lru_cache

import numpy as np
import pyloudnorm

from halfstep.backing import band_ending, count_in, make_backing
from halfstep.backing.styles import style_for
from halfstep.meter import Feel, Meter, clock_for
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Bar, Chart, ChordAt
from halfstep.progression.symbol import parse_symbol
from halfstep.render.mixdown import BandSound, band_sound
from halfstep.render.sampler import FRAME_RATE

COMMON = Meter(4, 4)


def chart_of(text: str, meter: Meter) -> Chart:
    bars = tuple(
        Bar(n, meter, meter.bar_beats, (ChordAt(parse_symbol(word), Fraction(0)),), n)
        for n, word in enumerate(text.split(), 1)
    )
    return Chart("Thursday class", bars)


def band_of(
    text: str,
    feel: Feel,
    tempo_bpm: float,
    *,
    meter: Meter = COMMON,
    block: int = 1,
    choruses: int = 2,
    ends_on: str = "",
) -> BandSound:
    """A band over one chord a bar; with a bar of that chord behind the last chorus."""
    chart = chart_of(text, meter)
    parts = make_backing(chart, style=style_for(feel), choruses=block, tempo_bpm=tempo_bpm)
    ending = None
    if ends_on:
        last = chart_of(ends_on, meter).bars[0]
        ending = band_ending(parts, last, chart.beats)
    return band_sound(
        parts,
        count_in=count_in(meter),
        clock=clock_for(meter, tempo_bpm, swing=2 if feel is Feel.SWING else 1),
        count_in_beats=meter.bar_beats,
        beats=chart.beats,
        block=block,
        choruses=choruses,
        ending=ending.parts if ending else (),
        ending_beats=ending.beats if ending else Fraction(0),
    )


BANDS = {
    "swing": lambda: band_of("F7 Bb7 F7 Cm7 Bb7 Bdim7", Feel.SWING, 120),
    "straight": lambda: band_of("Dm7 G7 Em7 A7", Feel.STRAIGHT, 97),
    "waltz": lambda: band_of("Gmaj7 Em7 Am7 D13", Feel.SWING, 131, meter=Meter(3, 4)),
    "six-eight": lambda: band_of("Dm Am7/C Bbmaj7 A7", Feel.STRAIGHT, 60, meter=Meter(6, 8)),
    "slow": lambda: band_of("Dm7", Feel.STRAIGHT, 40),
    "short": lambda: band_of("Dm7", Feel.SWING, 300, choruses=20),
    "block": lambda: band_of("Dm7 G7", Feel.SWING, 150, block=4, choruses=6, ends_on="C6"),
}


@lru_cache
def made_band(name: str) -> BandSound:
    """A band, made once."""
    return BANDS[name]()


def file_of(band: BandSound) -> np.ndarray:
    """The whole file of the band."""
    return band.tiled(band.mix_once)


def line_of(program: int, *notes: PlayedNote) -> PlayedPart:
    return PlayedPart("line", program, False, notes)


def note(onset: float, beats: float, midi: int) -> PlayedNote:
    return PlayedNote(Fraction(onset), Fraction(beats), midi, 90)


def lufs(samples: np.ndarray) -> float:
    """By pyloudnorm, an implementation of ITU-R BS.1770-4 that is not ours."""
    return float(pyloudnorm.Meter(FRAME_RATE).integrated_loudness(samples.astype(float) / 32768))
