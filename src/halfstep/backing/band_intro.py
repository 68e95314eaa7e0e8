"""What does the band play before the first chorus? The last bars of the form, as a turnaround.

Two bars or four lead in as they will lead back from chorus to chorus: the drums' fill, the
bass's step into the first root and the chords' way there included. They are not part of a
chorus, and lie before beat 0; a count-in lies before them.

The bass of the chorus is there before its intro is: of several that are as good the one is taken
that comes to the very note with which the chorus begins, and not to its octave.

Source: common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from itertools import chain

from halfstep.backing.band import make_backing
from halfstep.backing.styles import Style
from halfstep.meter import DEFAULT_BPM
from halfstep.played import PlayedNote, PlayedPart
from halfstep.progression.chart import Bar, Chart, ChordAt, spans

INTRO_BARS = (0, 2, 4)
"""How many bars may lead in."""


@dataclass(frozen=True, slots=True)
class BandIntro:
    """The bars before the first chorus.

    Attributes
    ----------
    beats : Fraction
        Their length; they end at beat 0.
    parts : tuple of PlayedPart
        The players of the band with the notes of these bars, at beats below 0.
    """

    beats: Fraction
    parts: tuple[PlayedPart, ...]

    def before(self, part: PlayedPart) -> PlayedPart:
        """A part with its notes of the intro before those of the chorus."""
        more = (note for other in self.parts if other.name == part.name for note in other.notes)
        return replace(part, notes=(*more, *part.notes))


_ATTEMPTS = 16


def band_intro(
    chart: Chart,
    *,
    style: Style,
    bars: int,
    seed: int = 0,
    tempo_bpm: float = DEFAULT_BPM,
    band: Sequence[PlayedPart] = (),
) -> BandIntro:
    """What drums, bass and chords play to lead in.

    Parameters
    ----------
    chart : Chart
    style : Style
    bars : int
        How many of the form's last bars; a shorter form is played again.
    seed : int
    tempo_bpm : float
        Pulses a minute.
    band : sequence of PlayedPart
        What they play from beat 0, where the intro is to come to that.
    """
    leading = _last_bars(chart, bars)
    beats = sum((bar.beats for bar in leading), Fraction(0))
    # with bar 1 behind them, so that all is on its way there
    first = _with_chord(chart, 0)._replace(section="1")
    way = replace(chart, bars=_numbered((*leading, first)))
    goal = next((part.notes[0].midi for part in band if part.name == "bass" and part.notes), None)

    def attempt(number: int) -> tuple[PlayedPart, ...]:
        return make_backing(way, style=style, seed=seed + number, tempo_bpm=tempo_bpm)

    drums, bass, chords = attempt(0)
    if goal is not None:
        basses = chain((bass,), (attempt(number)[1] for number in range(1, _ATTEMPTS)))
        bass = next((line for line in basses if _comes_to(line, beats) == goal), bass)
    return BandIntro(beats, tuple(_led_in(part, beats) for part in (drums, bass, chords)))


def _comes_to(bass: PlayedPart, beats: Fraction) -> int | None:
    """The note that a bass plays behind its intro."""
    return next((note.midi for note in bass.notes if note.onset >= beats), None)


def _last_bars(chart: Chart, count: int) -> tuple[Bar, ...]:
    """Bars from the form's end, each with the chord that sounds in it."""
    form = len(chart.form)
    bars = tuple(_with_chord(chart, n % form) for n in range(form - count, form))
    return tuple(bar._replace(section="") for bar in bars)


def _with_chord(chart: Chart, number: int) -> Bar:
    """A bar of the form that states the chord it begins with."""
    bar = chart.form[number]
    if bar.chords and not bar.chords[0].at:
        return bar
    start = sum((other.beats for other in chart.form[:number]), Fraction(0))
    sounding = next(span for span in spans(chart) if span.start <= start < span.end)
    return bar._replace(chords=(ChordAt(sounding.symbol, Fraction(0)), *bar.chords))


def _numbered(bars: tuple[Bar, ...]) -> tuple[Bar, ...]:
    return tuple(bar._replace(number=number) for number, bar in enumerate(bars, 1))


def _led_in(part: PlayedPart, beats: Fraction) -> PlayedPart:
    """The notes of the intro alone, ended and moved before beat 0."""
    leading = (note for note in part.notes if note.onset < beats)
    return replace(part, notes=tuple(_moved(note, beats) for note in leading))


def _moved(note: PlayedNote, beats: Fraction) -> PlayedNote:
    length = min(note.beats, beats - note.onset)
    return replace(note, onset=note.onset - beats, beats=length)
