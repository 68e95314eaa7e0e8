"""What is asked of a lesson, and who is it for?"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from halfstep.etude.step import Step
from halfstep.etude.steps import parse_steps
from halfstep.instruments import INSTRUMENTS, Instrument
from halfstep.lesson.manner import feel_played, manner_word, tempo_played
from halfstep.level import Level
from halfstep.meter import Feel
from halfstep.progression.chart import Chart

if TYPE_CHECKING:
    from pathlib import Path

    from halfstep.backing import Style
    from halfstep.etude.teachers_line import TeachersLine

BACKING = "backing"
"""What the band of a lesson is stored as, less the ending of the name."""


@dataclass(frozen=True, slots=True)
class Player:
    """Who gets a part.

    Attributes
    ----------
    instrument : Instrument
    level : Level
    name : str
        As printed on the handout; empty prints none.
    known : frozenset of int or None
        Concert MIDI numbers of the only notes that are played; None for all of the level.
    """

    instrument: Instrument
    level: Level = Level.INTERMEDIATE
    name: str = ""
    known: frozenset[int] | None = None

    @property
    def label(self) -> str:
        """The instrument, and the name where there is one."""
        return f"{self.instrument.label} · {self.name}" if self.name else self.instrument.label


def file_stems(players: Sequence[Player]) -> tuple[str, ...]:
    """What the files of each player are named after, no two alike.

    The instrument alone where one player has it; else with the name, or the level where
    there is no name, and a number where even that is the same.

    >>> from halfstep.instruments import INSTRUMENTS
    >>> alto = INSTRUMENTS["alto-sax"]
    >>> file_stems([Player(alto, name="Ada Lind"), Player(alto, Level.BEGINNER)])
    ('alto-sax-ada-lind', 'alto-sax-beginner')
    """
    shared = Counter(player.instrument for player in players)
    stems: list[str] = []
    for player in players:
        stem = player.instrument.key
        if shared[player.instrument] > 1:
            stem += f"-{_for_a_file(player.name) or player.level}"
        stems.append(_another(stem, stems))
    return tuple(stems)


_LONGEST_NAME = 40
"""Letters of a name that stand in the name of a file."""


def _for_a_file(name: str) -> str:
    """Letters and digits in small, all else as hyphens."""
    return re.sub(r"[\W_]+", "-", name.lower()).strip("-")[:_LONGEST_NAME].rstrip("-")


def _another(stem: str, taken: Sequence[str]) -> str:
    """The stem, or with the first number that makes it another than those taken."""
    number, another = 1, stem
    folded = {other.casefold() for other in taken}  # as disks do that know no capitals
    while another.casefold() in folded:
        number += 1
        another = f"{stem}-{number}"
    return another


@dataclass(frozen=True, slots=True)
class LessonBrief:
    """A request for a lesson.

    Attributes
    ----------
    chart : Chart
    players : tuple of Player
        A part each.
    steps : tuple of Step
    level : Level
        Of the lesson: the teacher's sheet is written for it, and the tempo where none is
        stated.
    tempo_bpm : float or None
        Pulses a minute; None takes the chart's, or the level's.
    feel : Feel or None
        None takes the chart's, or swing.
    seed : int
    ending : bool or None
        Steps end at home, in a bar for the last time, where the form leads back there; None
        leaves it to each step.
    style : Style or None
        How the band plays; None takes the one of the feel.
    choruses : int or None
        Of the backing; None takes as many as last a minute.
    without : frozenset of str
        Who of the band is left out: ``drums``, ``bass``, ``chords``.
    count_in_bars : int or None
        1 or 2; None as many as the tempo needs.
    intro_bars : int
        0, 2 or 4 bars of the band before the first chorus.
    exact_time : bool
        All play on one clock, as a beginner may need it, and nobody in a time of his own.
    bank : Path or None
        The sound bank to play; see `halfstep.render.known_banks.find_bank`.
    line : TeachersLine or None
        The teacher's own, as an example before the steps.
    plain : bool
        The lines have no slurs, accents or signs of loudness.
    """

    chart: Chart
    players: tuple[Player, ...] = (Player(INSTRUMENTS["concert"]),)
    steps: tuple[Step, ...] = parse_steps("1-6")
    level: Level = Level.INTERMEDIATE
    tempo_bpm: float | None = None
    feel: Feel | None = None
    seed: int = 1
    ending: bool | None = None
    style: Style | None = None
    choruses: int | None = None
    without: frozenset[str] = frozenset()
    count_in_bars: int | None = None
    intro_bars: int = 0
    exact_time: bool = False
    bank: Path | None = None
    line: TeachersLine | None = None
    plain: bool = False

    @property
    def exercises(self) -> int:
        """How many each player is given."""
        return len(self.steps) + (self.line is not None)

    @property
    def pulses_a_minute(self) -> float:
        """The tempo that is used."""
        return tempo_played(self.chart, self.level, self.tempo_bpm)

    @property
    def eighths(self) -> Feel:
        """The feel that is used; metres counted in eighths are straight."""
        return feel_played(self.chart, self.style, self.feel)

    @property
    def manner(self) -> str:
        """The style by its title, or the feel, as a page shows it."""
        return manner_word(self.style, self.eighths)

    @property
    def band_style(self) -> Style:
        """The style that is used."""
        from halfstep.backing import style_for

        return self.style or style_for(self.eighths, self.chart.meter)
