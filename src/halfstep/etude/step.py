"""A step as a value: what it is called, what is asked of the player, and how it is written.

An exercise is what a player is given: a step, which the program writes, or a line that stands
already.

A step writes its line note by note, or in runs of a given shape. What it needs is required
when it is made, so that a step with a piece missing is never met.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple
from zlib import crc32

from halfstep.etude.articulation import Articulation
from halfstep.etude.costs import CONTOUR_REACH, CONTOUR_WEIGHT, Cost
from halfstep.etude.etude_brief import Brief
from halfstep.etude.etude_line import Notice
from halfstep.etude.etude_notes import EtudeNote
from halfstep.etude.layouts import LAYOUTS_TRIED, Layouts
from halfstep.etude.palette import Palette
from halfstep.etude.rules import BREATHES, EVERY_STEP, LineRule, LocalRule
from halfstep.etude.sentences import Sentence
from halfstep.etude.slots import Piece
from halfstep.etude.step_scales import ScaleOver, with_scales
from halfstep.harmony.analysis import Analysis
from halfstep.instruments import Striking, left_hand
from halfstep.random_stream import RandomStream

if TYPE_CHECKING:
    from halfstep.etude.chord_runs import ChordRun

NoticesOf = Callable[[Analysis, Brief, Sequence[EtudeNote]], tuple[Notice, ...]]
"""What the teacher should know of the notes of a step."""

RunLayout = Callable[
    [Sequence[Piece], Sequence[Palette | None], set[int], Brief, RandomStream],
    "list[ChordRun]",
]
"""The runs of a step: of the pieces of the chart, their palettes, and the bars ending phrases."""


def no_notices(
    _analysis: Analysis, _brief: Brief, _notes: Sequence[EtudeNote]
) -> tuple[Notice, ...]:
    """Nothing that the teacher should know."""
    return ()


class NoteByNote(NamedTuple):
    """A line chosen note by note: any note of the range may stand in any slot.

    Attributes
    ----------
    layouts : Layouts
        Slots to be filled, one layout after another until a line tells its chords.
    costs : tuple of Cost
        What ranks the lines that keep the rules; none where the layout pins every note.
    redrawn : bool
        Each layout is filled again and again until a line tells enough; else once, and
        the next layout is tried.
    wishes : bool
        A seed wishes for notes that other seeds do not, where the layout alone would leave two
        lines alike.
    contour : float
        What it counts to be away from the height that the contour leads to.
    reach : float
        How far the contour goes from the middle of the range, as a share of half of it.
    most_blocked : int
        Layouts that are tried until one can be filled.
    notices : NoticesOf
    """

    layouts: Layouts
    costs: tuple[Cost, ...]
    redrawn: bool = True
    wishes: bool = True
    contour: float = CONTOUR_WEIGHT
    reach: float = CONTOUR_REACH
    most_blocked: int = LAYOUTS_TRIED
    notices: NoticesOf = no_notices


OFF_ROOT = 10.0
"""For a run built on another chord tone than the root."""


class InRuns(NamedTuple):
    """A line of runs whose shape is given; the search chooses where each one starts.

    Attributes
    ----------
    layout : RunLayout
    notices : NoticesOf
    untold : float
        What each nat costs that a run leaves untold of its chord.
    again : float
        What it costs to begin on the note that the run before ends on.
    off_root : float
        What it costs to build a run on another chord tone than the root; 0 where any will do.
    """

    layout: RunLayout
    notices: NoticesOf
    untold: float = 0.0
    again: float = 0.0
    off_root: float = OFF_ROOT


NUMBERED = (
    "arpeggio", "arpeggio-in-rhythm", "broken-arpeggio", "scale", "turning-scale", "one-line",
    "guide-tones", "cells", "approach-notes", "enclosures", "motif", "call-and-response", "chorus",
)  # fmt: skip
"""The steps that the numbers from 1 to 13 are a second name of, for good."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Exercise:
    """What a player is given to play.

    Attributes
    ----------
    name : str
        What it is called for good, in small letters and hyphens.
    title : str
    task : str
        What the player does, in one or two sentences.
    sentences : tuple of Sentence
        What its player is told, the most telling first.
    """

    name: str
    title: str
    task: str
    sentences: tuple[Sentence, ...]

    @property
    def number(self) -> int | None:
        """Its second name, if it is one of `NUMBERED`."""
        return NUMBERED.index(self.name) + 1 if self.name in NUMBERED else None

    @property
    def short_name(self) -> str:
        """Its number, or else its name: what files and messages call it."""
        return self.name if self.number is None else str(self.number)

    @property
    def heading(self) -> str:
        """The title as printed, with its number if it has one."""
        return self.title if self.number is None else f"{self.number}. {self.title}"

    @property
    def file_stem(self) -> str:
        """What its files are named after."""
        return self.short_name


@dataclass(frozen=True, slots=True, kw_only=True, repr=False)
class Step(Exercise):
    """One step.

    Attributes
    ----------
    writing : NoteByNote or InRuns
    rules : tuple of LocalRule or LineRule
        Beside those for every step.
    breathing : LineRule
        Where a wind player breathes.
    least_outline : float or None
        The relative outline that a line is drawn again for; most lines have it at once.
    beginners_kin : int
        So many neighbouring seeds of a beginner are written unlike each other, one after another,
        where chance alone leaves too little choice.
    stream : int
        Its stream of random numbers, if that is neither its number nor drawn from its name.
    is_performed : bool
        It is played to its end, not round and round: where the form leads back to the top it
        has an ending of itself.
    scale_over : ScaleOver or None
        The scale over each chord, where that is not the one of the chart.
    is_study : bool
        A figure that is practised in many ways: how it is tongued is left to its player.
    in_chords : bool
        Who can strikes several notes at once; what lies under one player's hand does not under
        another's, so each has a line of their own. A keyboard plays it with the left hand.
    """

    writing: NoteByNote | InRuns
    rules: tuple[LocalRule | LineRule, ...]
    breathing: LineRule = BREATHES
    least_outline: float | None = None
    beginners_kin: int = 1
    stream: int = 0
    is_performed: bool = False
    scale_over: ScaleOver | None = None
    is_study: bool = False
    in_chords: bool = False

    def __repr__(self) -> str:
        return f"<step {self.name}>"

    @property
    def file_stem(self) -> str:
        """What its files are named after."""
        return f"step-{self.short_name}"

    @property
    def every_rule(self) -> tuple[LocalRule | LineRule, ...]:
        """Its rules with those for every step."""
        return (*EVERY_STEP, self.breathing, *self.rules)

    @property
    def local_rules(self) -> list[LocalRule]:
        """The rules that a search keeps to, those of the step first."""
        return [rule for rule in (*self.rules, *EVERY_STEP) if isinstance(rule, LocalRule)]

    def explained(self, analysis: Analysis) -> Analysis:
        """The chart with the scales that the step plays over its chords."""
        return with_scales(analysis, self.scale_over) if self.scale_over else analysis

    def brief_for(self, brief: Brief) -> Brief:
        """The brief as the step takes it: chords are the left hand's on a keyboard."""
        if self.is_study:
            return replace(brief, articulation=Articulation.PLAIN)
        if not self.in_chords or brief.instrument.striking is not Striking.KEYS:
            return brief
        return replace(brief, instrument=left_hand(brief.instrument))

    def rng(self, seed: int, chart: int) -> RandomStream:
        """Random numbers for a seed over a chart of that number: no other step has the same."""
        return RandomStream(seed, self.stream or self.number or crc32(self.name.encode()), chart)
