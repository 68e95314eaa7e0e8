"""Everything a lesson needs to know about a chart's harmony, in one value.

Concert pitch throughout; a part transposes what it shows.
"""

from collections import Counter
from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import TYPE_CHECKING, NamedTuple

from halfstep.errors import ReadError
from halfstep.harmony.blues import blues_scales, is_minor_blues
from halfstep.harmony.changes import Change, Motion, change_between, guide_tones
from halfstep.harmony.chord_in_key import (
    degree_in,
    falls_a_fifth,
    is_dominant,
    is_minor,
    is_tonic,
)
from halfstep.harmony.function import ChordPlace, Function, Role, function_of
from halfstep.harmony.home_key import home_in
from halfstep.harmony.key_table import KeyTable, key_table
from halfstep.harmony.local_keys import keys_from_home
from halfstep.harmony.modes import modes_of_their_own
from halfstep.harmony.scale_choice import ScaleChoice, says_minor_sixth, scale_choices
from halfstep.harmony.scales import Scale
from halfstep.harmony.tones import ChordTone, chord_tones, core_tones
from halfstep.level import Level
from halfstep.progression.chart import Chart, Span, spans
from halfstep.progression.key import Key
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol

if TYPE_CHECKING:
    from halfstep.harmony.key_signatures import Signature


class AnalysedChord(NamedTuple):
    """A chord in its place.

    Attributes
    ----------
    span : Span
    tones : tuple of ChordTone
        Empty for ``N.C.``
    key : Key
        Local key.
    function : Function
        Its role in the local key.
    choices : tuple of ScaleChoice
        Best first; empty for ``N.C.``
    """

    span: Span
    tones: tuple[ChordTone, ...]
    key: Key
    function: Function
    choices: tuple[ScaleChoice, ...]

    @property
    def numeral(self) -> str:
        """Roman numeral in the local key, or of the chord it leads to: ``V7/ii``."""
        return self.function.numeral

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

    @property
    def guides(self) -> tuple[ChordTone, ...]:
        """The third and the seventh, or the fourth and the sixth that stand for them."""
        return tuple(tone for tone in self.core if tone.degree.number in {3, 4, 6, 7})

    def is_at_home(self, home: Key) -> bool:
        """True for the tonic of a key; with a minor seventh as well, where it leads nowhere."""
        symbol, place = self.span.symbol, self.function.place
        if symbol.silent or degree_in(symbol, home) != 0:
            return False
        rests = is_tonic(symbol, home) or symbol.family is Family.POWER
        stays = is_dominant(symbol) and not home.minor and place.rise not in _FALLS_ON
        return rests or stays or self.function.role in _AT_HOME


_AT_HOME = {Role.TONIC, Role.TONIC_SEVENTH, Role.BLUES}
_FALLS_ON = {5, 11}
"""How far up the root lies that a dominant leads to: a fifth or a half step below."""


class Region(NamedTuple):
    """Neighbouring chords in one local key.

    Attributes
    ----------
    key : Key
    first, last : int
        Places of the first and last chord in the analysis.
    """

    key: Key
    first: int
    last: int


TURNAROUND_FROM = 8
"""Bars of a form; in a shorter one the last two bars are half of a loop."""


class Analysis(NamedTuple):
    """A chart explained.

    Attributes
    ----------
    chart : Chart
    home : Key
        The key of the whole: stated, or the one that explains the most.
    chords : tuple of AnalysedChord
    changes : tuple of Change or None
        From each chord to the next, the last one around to the first; None beside
        ``N.C.``
    """

    chart: Chart
    home: Key
    chords: tuple[AnalysedChord, ...]
    changes: tuple[Change | None, ...]

    @property
    def regions(self) -> tuple[Region, ...]:
        """The chart cut where the local key changes."""
        runs = [list(run) for _, run in groupby(enumerate(self.chords), lambda at: at[1].key)]
        return tuple(Region(run[0][1].key, run[0][0], run[-1][0]) for run in runs)

    @property
    def guide_tones(self) -> tuple[tuple[Motion, ...], ...]:
        """How the guide tones of each chord go to the next one's, around the loop."""
        following = (*self.chords[1:], self.chords[0])
        return tuple(
            ()
            if chord.silent or next_chord.silent
            else guide_tones([t.name for t in chord.guides], [t.name for t in next_chord.guides])
            for chord, next_chord in zip(self.chords, following, strict=True)
        )

    @property
    def signatures(self) -> "tuple[Signature, ...]":
        """Key signatures that fit a chorus, with few changes and few accidentals."""
        from halfstep.harmony.key_signatures import fitting_signatures

        scales = [None if chord.silent else chord.scale for chord in self.chords]
        return fitting_signatures(scales, home=self.home.fifths)

    @property
    def turnaround(self) -> Region | None:
        """The chords of the last two bars, where they lead back to the tonic at the top."""
        top, last = self.chords[0], len(self.chords) - 1
        form = self.chart.form
        if len(form) < TURNAROUND_FROM or not (top.is_at_home(self.home) and _leads_back(self)):
            return None
        begin = self.chart.beats - form[-1].beats - form[-2].beats
        first = next(n for n, chord in enumerate(self.chords) if chord.span.end > begin)
        return Region(self.home, first, last) if first < last else None

    @property
    def each_in_its_mode(self) -> bool:
        """True where there is no key of the whole: each chord has a mode of its own."""
        return modes_of_their_own([chord.span for chord in self.chords]) is not None

    @property
    def blues_scales(self) -> tuple[Scale, ...]:
        """The layer of style over a blues: their notes are played against any of its chords.

        The chord tones come first; what else a blues scale has is colour over them.
        """
        chord_spans = [chord.span for chord in self.chords]
        is_major = any(chord.function.role is Role.BLUES for chord in self.chords)
        bars = len(self.chart.form)
        is_blues = is_major or is_minor_blues(chord_spans, self.home, bars=bars)
        return blues_scales(self.home) if is_blues else ()

    def changing_into(self, index: int) -> Change | None:
        """What changes at the start of chord ``index``."""
        return self.changes[index - 1]


def _leads_back(analysis: Analysis) -> bool:
    """True where the last chord is a dominant that goes to the first one's root."""
    place = analysis.chords[-1].function.place
    return is_dominant(place.symbol) and place.rise in _FALLS_ON


def analyse(chart: Chart, *, level: Level = Level.INTERMEDIATE) -> Analysis:
    """Explain a chart.

    Raises
    ------
    ReadError
        When no bar of the form has a chord.
    """
    chord_spans = spans(chart)
    if all(span.symbol.silent for span in chord_spans):
        raise ReadError("the chart has no chords; write bars such as | Am7 D7 | Gmaj7 |")
    table = key_table(chord_spans, home=chart.key)
    home = chart.key or home_in(table)
    places = _with_its_minor(tuple(_chord_places(table.at_home(home), home)))
    chords = tuple(
        _analysed_chord(span, place, level) for span, place in zip(chord_spans, places, strict=True)
    )
    changes = tuple(
        None if chord.silent or next_chord.silent else change_between(chord.scale, next_chord.scale)
        for chord, next_chord in zip(chords, (*chords[1:], chords[0]), strict=True)
    )
    return Analysis(chart, home, chords, changes)


def _chord_places(table: KeyTable, home: Key) -> Iterator[ChordPlace]:
    """Each chord with its neighbours around the loop and its local key."""
    symbols = [span.symbol for span in table.spans]
    blues = any(table.blues)
    keys = modes_of_their_own(table.spans) or keys_from_home(table, home)
    last = len(symbols) - 1
    ones = [symbol for symbol in symbols if not symbol.silent and degree_in(symbol, home) == 0]
    plain = bool(ones) and not is_dominant(ones[0])
    for index, (symbol, key) in enumerate(zip(symbols, keys, strict=True)):
        after = symbols[(index + 1) % len(symbols)]
        before = symbols[index - 1] if index else after
        leads = degree_in(symbol, home) == 0 and _leads_to_four(before, symbol, after, plain=plain)
        yield ChordPlace(
            symbol,
            before=symbols[index - 1],
            after=after,
            key=key,
            blues=blues and key == home and degree_in(symbol, home) in {0, 5} and not leads,
            opens=index == 0,
            closes=index == last,
            key_before=None if index == 0 else keys[index - 1],
            key_after=None if index == last else keys[index + 1],
        )


def _leads_to_four(
    before: ChordSymbol, symbol: ChordSymbol, after: ChordSymbol, *, plain: bool
) -> bool:
    """True for I7 that is V7 of IV: after its ii, before a plain IV, and where I begins plain."""
    after_its_two = is_minor(before) and falls_a_fifth(before, symbol)
    return falls_a_fifth(symbol, after) and (after_its_two or plain or not is_dominant(after))


def _with_its_minor(places: Sequence[ChordPlace]) -> Iterator[ChordPlace]:
    """The places with the kind of minor that their key has all through the chart.

    One tonic, one scale: it does not change with each neighbour.
    """
    votes: Counter[Key] = Counter()
    for place in places:
        votes[place.key] += says_minor_sixth(place)
    for place in places:
        yield place._replace(natural_minor=votes[place.key] > 0)


def _analysed_chord(span: Span, place: ChordPlace, level: Level) -> AnalysedChord:
    try:
        choices = scale_choices(place, level=level, chosen=span.scale)
    except ReadError as error:
        raise ReadError(f"bar {span.bar}: {error.message}") from None
    return AnalysedChord(span, chord_tones(span.symbol), place.key, function_of(place), choices)
