"""What is asked of backings, and which files does that make? One for each key and tempo."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from halfstep.lesson.keys_page import KEYS, by_fourths
from halfstep.part.transposition import in_key
from halfstep.part.written_music import home_key_of
from halfstep.progression.chart import Chart
from halfstep.progression.key import Key

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.backing import Style

PARTS = ("drums", "bass", "chords")
"""Who can be left out."""
DRONES = ("roots", "home")
"""What a drone holds: the root of each chord, or the tonic of the home key."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BackingBrief:
    """A request for backings of one chart.

    Attributes
    ----------
    chart : Chart
        In the key that the first file is in.
    style : Style
    tempi : tuple of float
        Pulses a minute, a file each.
    rising : bool
        One file instead, in which each chorus takes the next tempo.
    keys : tuple of Key
        A file each; without one the chart's own.
    choruses : int or None
        None takes as many as last a minute.
    without : frozenset of str
        Those of `PARTS` that are left out.
    count_in_bars : int or None
        1 or 2; None as many as the tempo needs.
    intro_bars : int
        0, 2 or 4 bars of the band before the first chorus.
    ending : bool
        The band ends at home behind the last chorus, where the form leads there.
    click : bool
        A click in the place of the band.
    drone : str or None
        One of `DRONES` in the place of the band, with a click where that is asked for too.
    seed : int
    exact_time : bool
        All play on one clock.
    bank : Path or None
        The sound bank to play; see `halfstep.render.known_banks.find_bank`.
    """

    chart: Chart
    style: Style
    tempi: tuple[float, ...]
    rising: bool = False
    keys: tuple[Key, ...] = ()
    choruses: int | None = None
    without: frozenset[str] = frozenset()
    count_in_bars: int | None = None
    intro_bars: int = 0
    ending: bool = False
    click: bool = False
    drone: str | None = None
    seed: int = 1
    exact_time: bool = False
    bank: Path | None = None


@dataclass(frozen=True, slots=True)
class BackingPiece:
    """One file of them.

    Attributes
    ----------
    name : str
        Of the file, without its suffix.
    chart : Chart
    tempi : tuple of float
        One, or one for each chorus.
    """

    name: str
    chart: Chart
    tempi: tuple[float, ...]


def backing_pieces(brief: BackingBrief, *, beside_another: bool = False) -> Iterator[BackingPiece]:
    """The files, key by key; names say what differs, and sort in the order of playing."""
    several = (beside_another or len(brief.tempi) > 1) and not brief.rising
    rows = [brief.tempi] if brief.rising else [(tempo,) for tempo in brief.tempi]
    for number, (key, chart) in enumerate(_charts(brief), 1):
        for tempi in rows:
            words = ["backing", *(["rising"] if brief.rising else [])]
            if len(brief.keys) > 1:
                words += [f"{number:02}", key_word(key)]
            if several and (len(brief.tempi) > 1 or not brief.keys):
                words.append(f"{tempi[0]:g}".zfill(3))
            yield BackingPiece("-".join(words), chart, tempi)


@dataclass(frozen=True, slots=True)
class MoreBackings:
    """What the band plays beside the backing of a lesson.

    Attributes
    ----------
    brief : BackingBrief or None
        None where there is no more.
    """

    brief: BackingBrief | None = None

    @property
    def pieces(self) -> tuple[BackingPiece, ...]:
        """The files."""
        return tuple(backing_pieces(self.brief, beside_another=True)) if self.brief else ()


NO_MORE = MoreBackings()


def _charts(brief: BackingBrief) -> Iterator[tuple[Key, Chart]]:
    if not brief.keys:
        yield home_key_of(brief.chart), brief.chart
    for key in brief.keys:
        yield key, in_key(brief.chart, key)


def key_cycle(chart: Chart) -> tuple[Key, ...]:
    """All keys by fourths, from the chart's own on."""
    home = home_key_of(chart)
    return tuple(home + by_fourths(home, fourths) for fourths in range(KEYS))


def key_word(key: Key) -> str:
    """A key as part of a file's name.

    >>> from halfstep.progression.key import parse_key
    >>> key_word(parse_key("F#m")), key_word(parse_key("Bb")), key_word(parse_key("D dorian"))
    ('F-sharp-minor', 'B-flat', 'D-dorian')
    """
    tonic = key.tonic.ascii.replace("#", "-sharp").replace("b", "-flat")
    return tonic if key.mode == "major" else f"{tonic}-{key.mode}"
