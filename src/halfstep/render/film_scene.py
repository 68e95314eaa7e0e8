"""What is seen in a frame of a film? A value: equal scenes are painted once.

It knows no harmony and no time; who makes it decides what stands where.
"""

from __future__ import annotations

from dataclasses import dataclass

from halfstep.score import ChordText


@dataclass(frozen=True, slots=True)
class SceneLine:
    """What stands in one of the places for music.

    Attributes
    ----------
    line : int
        Of the score's lines.
    is_playing : bool
        Dark; else faded.
    instead_of : int or None
        The line that it takes the place of, where both are seen.
    share : float
        How much of it is seen then, 0 to 1.
    """

    line: int
    is_playing: bool
    instead_of: int | None = None
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class SceneMove:
    """A note that changes: the old one over the new; empty where there is none."""

    old: str
    new: str


@dataclass(frozen=True, slots=True)
class SceneHeader:
    """Chords, and what changes between them.

    Attributes
    ----------
    now, following : ChordText or None
        The chord that sounds, and the one after it.
    count : int
        What is counted in the place of the chord that sounds; 0 where nothing is.
    moves : tuple of SceneMove
        At the bar line between the two.
    more : int
        Moves that are not shown.
    words : str
        Where no note is new: the moves are within what stays, and their lines thin.
    """

    now: ChordText | None = None
    following: ChordText | None = None
    count: int = 0
    moves: tuple[SceneMove, ...] = ()
    more: int = 0
    words: str = ""


@dataclass(frozen=True, slots=True)
class SceneCard:
    """What stands alone, before or after the music.

    Attributes
    ----------
    title : str
    texts : tuple of str
        Under it, the first one larger.
    """

    title: str
    texts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Scene:
    """A frame.

    Attributes
    ----------
    card : SceneCard or None
        Where it is one, nothing else is seen.
    lines : tuple of SceneLine or None
        In each place, from the top one down.
    bar : int or None
        The bar that sounds.
    head : (int, int) or None
        The bar and the number of the note that sounds.
    header : SceneHeader
    left, right : str
        What the strip says.
    finding : str
        What is said of a take, in the place of the left end of the strip.
    """

    card: SceneCard | None = None
    lines: tuple[SceneLine | None, ...] = ()
    bar: int | None = None
    head: tuple[int, int] | None = None
    header: SceneHeader = SceneHeader()
    left: str = ""
    right: str = ""
    finding: str = ""


@dataclass(frozen=True, slots=True)
class FilmPassage:
    """Frames that follow one another: where two passages have the same, they are encoded once.

    Attributes
    ----------
    start_s : float
        When the first frame is shown.
    runs : tuple of (int, Scene)
        How many frames each scene stands, in order.
    """

    start_s: float
    runs: tuple[tuple[int, Scene], ...]

    @property
    def frames(self) -> int:
        """How many it has."""
        return sum(frames for frames, _ in self.runs)
