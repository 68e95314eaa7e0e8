"""When is the band heard? Onsets found in the stems of a backing, against recordings of trios.

A stroke of the ride, and the pluck of a bass, is found where the power above some kilohertz
rises most. Sources: medians of the ride and the bass after the drums as counted on 34 trios
(Cheston et al., MIT licence).
"""

from __future__ import annotations

from fractions import Fraction
from statistics import mean, median, stdev

import numpy as np
import pytest

from halfstep.backing import STYLES, count_in
from halfstep.lesson.backing_brief import BackingBrief, backing_pieces
from halfstep.lesson.backings import backing_clock, backing_parts
from halfstep.played import PlayedNote
from halfstep.render.mixdown import band_sound
from typed_charts import read_chart_text

RIDE = 51
HALF = Fraction(1, 2)
MEDIANS = {60: 2.37, 100: 2.37, 140: 2.55, 180: 1.95, 220: 1.45, 280: 1.45}
CHART = (
    "| Dm7 | G7 | Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 | Fmaj7 | Fm7 | Em7 A7 | Dm7 G7 |"
    " Dm7 | G7 | Em7b5 | A7 |"
)
RATE = 44_100
Onsets = dict[Fraction, float]


def rises(stem: np.ndarray, above_hz: float) -> np.ndarray:
    """By frame, how much the level rises within three milliseconds, in nepers."""
    spectrum = np.fft.rfft(stem.astype(float).mean(axis=1) / 32768)
    spectrum[np.fft.rfftfreq(len(stem), 1 / RATE) < above_hz] = 0
    power = np.square(np.fft.irfft(spectrum, len(stem)))
    level = 0.5 * np.log(np.convolve(power, np.ones(44) / 44, "same") + 1e-10)
    return np.concatenate([np.zeros(132), level[132:] - level[:-132]])


def heard(rise: np.ndarray, notes: dict[Fraction, float], start_s: float) -> Onsets:
    """Where each note is heard within 30 ms of where it is written, in seconds after beat 0."""
    onsets = {}
    for onset, written_s in notes.items():
        first = max(0, round((start_s + written_s - 0.03) * RATE))
        place = first + int(rise[first : first + round(0.06 * RATE)].argmax())
        onsets[onset] = place / RATE - start_s
    return onsets


def stems(bpm: int) -> tuple[Onsets, Onsets]:
    """Onsets of the ride and of the bass over two choruses."""
    style = next(style for style in STYLES if style.name == "swing")
    brief = BackingBrief(chart=read_chart_text(CHART), style=style, tempi=(float(bpm),))
    (piece,) = backing_pieces(brief)
    clock, chart = backing_clock(brief, piece), piece.chart
    parts = {part.name: part for part in backing_parts(brief, piece, 2)}
    sound = band_sound(
        (parts["drums"], parts["bass"]),
        count_in=count_in(chart.meter), clock=clock, count_in_beats=Fraction(4),
        beats=chart.beats, block=2, choruses=2,
    )  # fmt: skip

    def written(notes: tuple[PlayedNote, ...]) -> dict[Fraction, float]:
        return {note.onset: clock.seconds(note.onset) + note.late_s for note in notes}

    start_s = sound.loop[0] / RATE
    strokes = tuple(note for note in parts["drums"].notes if note.midi == RIDE)
    rides = heard(rises(sound.once["drums"], 7000), written(strokes), start_s)
    plucks = heard(rises(sound.once["bass"], 1200), written(parts["bass"].notes), start_s)
    return rides, plucks


@pytest.mark.slow
@pytest.mark.parametrize(("bpm", "counted"), MEDIANS.items())
def test_the_stems_are_in_the_time_of_their_players(bpm: int, counted: float) -> None:
    """Above 260 few beats are parted, by which a median is known less well."""
    rides, plucks = stems(bpm)
    ratios = [
        (rides[beat + HALF] - rides[beat]) / (rides[beat + 1] - rides[beat + HALF])
        for beat in rides
        if beat % 1 == 0 and beat + HALF in rides and beat + 1 in rides
    ]
    assert len(ratios) > 12
    assert median(ratios) == pytest.approx(counted, abs=0.15 if bpm < 260 else 0.25)
    behind_ms = [1000 * (plucks[b] - rides[b]) for b in plucks if b in rides and b % 1 == 0]
    assert 0 <= mean(behind_ms) + 1.0 <= 7
    assert 10 <= stdev(behind_ms) <= 20
