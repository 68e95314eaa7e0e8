"""Who plays what, in one line? The facts that stand under a title."""

from __future__ import annotations

from halfstep.level import Level
from halfstep.meter import Meter
from halfstep.part.transposed_part import Part
from halfstep.progression.notations.text_writer import meter_text


def reading_facts(part: Part, level: Level) -> str:
    """Who reads it, key, metre and level in one line."""
    meter = part.analysis.chart.meter
    return " · ".join([part.instrument.label, _key_fact(part), meter_text(meter), str(level)])


def playing_facts(part: Part, level: Level, *, tempo_bpm: float, manner: str) -> str:
    """Key, metre, tempo, manner and level in one line.

    Parameters
    ----------
    tempo_bpm : float
        Pulses a minute.
    manner : str
        The feel, or the style of the band.
    """
    meter = part.analysis.chart.meter
    fact = manner_fact(meter, tempo_bpm=tempo_bpm, manner=manner)
    return " · ".join([_key_fact(part), str(meter), fact, str(level)])


def manner_fact(meter: Meter, *, tempo_bpm: float, manner: str) -> str:
    """Tempo and manner: ``♩ = 112 · swing``."""
    return f"{'♩.' if meter.compound else '♩'} = {tempo_bpm:g} · {manner}"


def _key_fact(part: Part) -> str:
    """The written key, and the concert key where it is another."""
    if part.analysis.each_in_its_mode:
        return "each chord in its own mode"
    home = part.analysis.home
    return str(part.key) if part.key == home else f"{part.key} (concert {home})"
