"""What stands on the page of a lead sheet, before repeats are taken.

This is the written view of a chart; `halfstep.progression.form` gives the played one.
Readers make a `LeadSheet`, writers take one.

Conventions
-----------
- All pitch is concert. Places and lengths are quarter-note beats from the bar's start.
- A bar without chords goes on with the chord before.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace
from fractions import Fraction
from typing import NamedTuple

from halfstep.meter import Feel, Meter
from halfstep.pitch import UNISON, Interval, Pitch
from halfstep.progression.chart import ChordAt
from halfstep.progression.key import Key


class SheetNote(NamedTuple):
    """A note of the melody.

    Attributes
    ----------
    at, beats : Fraction
        Place in the bar and length; what is not covered by notes is rest.
    pitch : Pitch
        Concert.
    tied : bool
        Tied to the next note, which has the same pitch.
    """

    at: Fraction
    beats: Fraction
    pitch: Pitch
    tied: bool = False


class Marks(NamedTuple):
    """What a bar says about the order of playing.

    Attributes
    ----------
    forward : bool
        A repeat begins with this bar.
    backward : int
        How often in all the passage that ends here is played; 0 without a repeat.
    ending : tuple of int
        The passes of an ending that begins here.
    ending_stops : bool
    segno, coda, to_coda, fine, da_capo, dal_segno : bool
        Signs; those that end a passage count at the end of the bar.
    """

    forward: bool = False
    backward: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: bool = False
    segno: bool = False
    coda: bool = False
    to_coda: bool = False
    fine: bool = False
    da_capo: bool = False
    dal_segno: bool = False

    @property
    def goes_back(self) -> bool:
        """True where the music goes back after this bar."""
        return bool(self.backward or self.da_capo or self.dal_segno)


NO_MARKS = Marks()


class WrittenBar(NamedTuple):
    """One bar as it stands on the page.

    Attributes
    ----------
    number : str
        As written; ``X1`` and the like are met.
    meter : Meter
    beats : Fraction
        What its notes fill, in quarter notes; 0 when it holds none.
    chords : tuple of ChordAt
    marks : Marks
    irregular : bool
        The page says that this bar need not be whole.
    section : str
        A rehearsal letter or name that stands at its start.
    notes : tuple of SheetNote
        The melody, concert pitch, in order; empty where the sheet has none.
    key : Key or None
        The key that begins with this bar; None where the one before goes on.
    """

    number: str
    meter: Meter
    beats: Fraction
    chords: tuple[ChordAt, ...] = ()
    marks: Marks = NO_MARKS
    irregular: bool = False
    section: str = ""
    notes: tuple[SheetNote, ...] = ()
    key: Key | None = None

    @property
    def short(self) -> bool:
        """True where the notes fill less than the metre's bar."""
        return 0 < self.beats < self.meter.bar_beats


@dataclass(frozen=True, slots=True)
class LeadSheet:
    """A chart as written.

    Attributes
    ----------
    title : str
    bars : tuple of WrittenBar
    key : Key or None
        As stated; None when the sheet states none.
    tempo_bpm : float or None
        Pulses a minute.
    feel : Feel or None
    notices : tuple of str
        What was not certain about the reading.
    style : str
        The name of the style that the band plays it in; empty states none.
    part_rise : Interval
        How far above it the part is written that it was read from, and spelled for.
    """

    title: str
    bars: tuple[WrittenBar, ...]
    key: Key | None = None
    tempo_bpm: float | None = None
    feel: Feel | None = None
    notices: tuple[str, ...] = ()
    style: str = ""
    part_rise: Interval = field(default=UNISON, compare=False)

    @property
    def has_melody(self) -> bool:
        """True when any bar has notes."""
        return any(bar.notes for bar in self.bars)

    def moved(self, interval: Interval) -> "LeadSheet":
        """The sheet an interval higher: keys, chords and melody together."""
        bars = tuple(
            bar._replace(
                chords=tuple(c.moved(interval) for c in bar.chords),
                notes=tuple(n._replace(pitch=n.pitch + interval) for n in bar.notes),
                key=bar.key + interval if bar.key else None,
            )
            for bar in self.bars
        )
        return replace(self, bars=bars, key=self.key + interval if self.key else None)


def keys_where_they_change(bars: Iterable[WrittenBar], first: Key | None) -> list[WrittenBar]:
    """Bars that all name the key they are in, left with it where it is a new one.

    Parameters
    ----------
    bars : iterable of WrittenBar
    first : Key or None
        The key of the sheet.
    """
    changed: list[WrittenBar] = []
    now = first
    for bar in bars:
        goes_on = bar.key is not None and bar.key == now
        changed.append(bar._replace(key=None) if goes_on else bar)
        now = bar.key or now
    return changed
