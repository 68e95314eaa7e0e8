"""Everything a lesson needs to know about a chart's harmony, in one value.

Concert pitch throughout; a part transposes what it shows.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.errors import ReadError
from halfstep.harmony.changes import Change, change_between
from halfstep.harmony.choice import Place, ScaleChoice, scale_choices
from halfstep.harmony.locality import degree_in, home_key, is_blues, local_keys, numeral
from halfstep.harmony.scales import Scale
from halfstep.harmony.tones import ChordTone, chord_tones, core_tones
from halfstep.instruments import Level
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.key import Key


@dataclass(frozen=True, slots=True)
class ChordHere:
    """A chord in its place.

    Attributes
    ----------
    span : Span
    tones : tuple of ChordTone
        Empty for ``N.C.``
    key : Key
        Local key.
    numeral : str
        Roman numeral in the local key.
    choices : tuple of ScaleChoice
        Best first; empty for ``N.C.``
    """

    span: Span
    tones: tuple[ChordTone, ...]
    key: Key
    numeral: str
    choices: tuple[ScaleChoice, ...]

    @property
    def silent(self) -> bool:
        """True for ``N.C.``"""
        return self.span.symbol.silent

    @property
    def scale(self) -> Scale:
        """The first choice; a silent chord has none."""
        return self.choices[0].scale

    @property
    def core(self) -> tuple[ChordTone, ...]:
        """The tones an arpeggio runs through: those up to the seventh that the scale holds."""
        held = self.scale.pitch_classes
        return tuple(tone for tone in core_tones(self.span.symbol) if tone.name.pitch_class in held)


@dataclass(frozen=True, slots=True)
class Analysis:
    """A chart explained.

    Attributes
    ----------
    chart : Chart
    home : Key
        The key of the whole: stated, or the one that explains the most.
    chords : tuple of ChordHere
    changes : tuple of Change or None
        From each chord to the next, the last one around to the first; None beside
        ``N.C.``
    """

    chart: Chart
    home: Key
    chords: tuple[ChordHere, ...]
    changes: tuple[Change | None, ...]

    def changing_into(self, index: int) -> Change | None:
        """What changes at the start of chord ``index``."""
        return self.changes[index - 1]


def analyse(chart: Chart, *, level: Level = Level.INTERMEDIATE) -> Analysis:
    """Explain a chart.

    Raises
    ------
    ReadError
        When no bar of the form has a chord.
    """
    found = spans(chart)
    if all(span.symbol.silent for span in found):
        raise ReadError("the chart has no chords; write bars such as | Am7 D7 | Gmaj7 |")
    home = chart.key or home_key(found)
    keys = local_keys(found, home)
    blues = is_blues([span.symbol for span in found], home)
    chords = tuple(
        _chord_here(
            found,
            index,
            keys[index],
            blues=blues and degree_in(found[index].symbol, home) in {0, 5},
            level=level,
        )
        for index in range(len(found))
    )
    changes = tuple(
        None if here.silent or there.silent else change_between(here.scale, there.scale)
        for here, there in zip(chords, (*chords[1:], chords[0]), strict=True)
    )
    return Analysis(chart, home, chords, changes)


def _chord_here(
    found: tuple[Span, ...], index: int, key: Key, *, blues: bool, level: Level
) -> ChordHere:
    symbol = found[index].symbol
    after = found[(index + 1) % len(found)].symbol
    place = Place(symbol, found[index - 1].symbol, after, key, blues)
    choices = scale_choices(place, level=level)
    return ChordHere(found[index], chord_tones(symbol), key, numeral(symbol, key), choices)
