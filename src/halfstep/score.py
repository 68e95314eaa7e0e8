"""What is on the page, before anyone draws it.

Engraver-neutral: a `Score` is one part in written pitch as bars of notes, rests and
chord symbols with marks. It knows no chords as harmony and no verdicts; whoever makes
it decides what is marked.

Conventions
-----------
- All pitches are *written*; `Score.rise` says how far above concert they stand.
- Lengths and places are quarter-note beats as `Fraction`, places from the bar's start.
- Every bar adds up to its length; a length needs no tie inside a bar unless it says so.
"""

from __future__ import annotations

from dataclasses import KW_ONLY, dataclass
from enum import Flag, StrEnum, auto
from fractions import Fraction

from halfstep.instruments import Clef
from halfstep.meter import Meter
from halfstep.pitch import Interval, Pitch


class Mark(Flag):
    """What may stand at a note."""

    NONE = 0
    CHANGING = auto()
    """A changing note: new with this chord. Drawn so that grey print keeps it."""
    BREATH = auto()
    """Breathe after this note."""
    TIE = auto()
    """Tied to the next note, which has the same pitch."""
    LEADS = auto()
    """It leads to the next note by step, inside the scale."""
    LEADS_CHROMATIC = auto()
    """It leads to the next note by half step, from outside the scale."""
    ENCLOSES = auto()
    """One of two notes around the one they lead to."""
    UNSEEN = auto()
    """A rest that is not printed: the bar is left open for the player."""
    SLUR = auto()
    """Slurred to the next note: that one is not tongued."""
    ACCENT = auto()
    STACCATO = auto()
    TENUTO = auto()
    GHOST = auto()
    """Barely sounded: its head stands in parentheses."""
    SCOOP = auto()
    """Its pitch is reached from below."""
    FALL = auto()
    """Its pitch falls away at its end."""


ARTICULATIONS = Mark.ACCENT | Mark.STACCATO | Mark.TENUTO
"""The marks that stand over or under a head."""

LEADING = Mark.LEADS | Mark.LEADS_CHROMATIC | Mark.ENCLOSES
"""The marks of notes that lead to another."""


class Dynamic(StrEnum):
    """How loud it is from a note on, softest first."""

    PIANO = "p"
    MEZZO_PIANO = "mp"
    MEZZO_FORTE = "mf"
    FORTE = "f"


@dataclass(frozen=True, slots=True)
class ScoreNote:
    """A written note (or a rest when ``pitch`` is None).

    Attributes
    ----------
    pitch : Pitch or None
        Written pitch.
    beats : Fraction
        Written length in quarter notes: 4, 3, 2, 3/2, 1, 3/4, 1/2 or 1/4.
    marks : Mark
    degree : str
        What stands under the note: its degree in its chord (``♭7``), or how a heard note
        lies (``+20``); empty prints none.
    dynamic : Dynamic or None
        What begins with it and is printed.
    below : tuple of Pitch
        Written pitches that are struck with it on one stem, the highest first.
    """

    pitch: Pitch | None
    beats: Fraction
    marks: Mark = Mark.NONE
    degree: str = ""
    dynamic: Dynamic | None = None
    below: tuple[Pitch, ...] = ()

    @property
    def heads(self) -> tuple[Pitch, ...]:
        """All its pitches, the highest first; none of a rest."""
        return () if self.pitch is None else (self.pitch, *self.below)


class SignShape(StrEnum):
    """What a sign under a place looks like, told apart without colour."""

    FULL = "full square"
    HALF = "half-filled square"
    EMPTY = "empty square"
    FRAMED = "word in a frame"
    DOTTED = "word over dots"


@dataclass(frozen=True, slots=True)
class PlaceSign:
    """A sign under a place of a bar: a shape, and a word beside or in it.

    Attributes
    ----------
    at : Fraction
        Beats from the bar's start.
    shape : SignShape
    word : str
        Empty for a shape alone.
    """

    at: Fraction
    shape: SignShape
    word: str = ""


@dataclass(frozen=True, slots=True)
class DegreeText:
    """What a chord symbol says besides its kind, as MusicXML 4.0 counts it.

    Attributes
    ----------
    value, alter : int
        The degree, and by how many semitones it is moved.
    type : str
        ``add``, ``alter`` or ``subtract``.
    word : str or None
        What is printed before its sign and number; None where nothing of it is printed.
    """

    value: int
    alter: int
    type: str
    word: str | None = ""


@dataclass(frozen=True, slots=True)
class ChordText:
    """A chord symbol over the staff, in pieces, so that every writer can print it well.

    Attributes
    ----------
    at : Fraction
        Beats from the bar's start.
    root, bass : Name texts
        As printed (``B♭``); ``bass`` is empty without one. Empty ``root`` means that
        ``plain`` is printed as it stands (``N.C.``).
    quality : str
        What stands on the line after the root: ``m``, ``°``, ``ø``, ``maj``.
    extension : str
        What is raised: ``7``, ``9♭5``.
    kind : str
        The MusicXML 4.0 ``kind-value``.
    kind_text : str
        What is printed for the kind alone: ``7`` where the degrees say ``♭9``.
    degrees : tuple of DegreeText
        What is printed after it.
    bracketed : bool
        The degrees stand in brackets: ``C(♭5)``.
    """

    at: Fraction
    _: KW_ONLY
    kind: str
    root: str = ""
    quality: str = ""
    extension: str = ""
    bass: str = ""
    plain: str = ""
    kind_text: str = ""
    degrees: tuple[DegreeText, ...] = ()
    bracketed: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Road:
    """What a bar says about the order of playing.

    Attributes
    ----------
    forward : bool
        A repeat begins here.
    backward : int
        How often in all the passage that ends here is played; 0 without a repeat.
    ending : tuple of int
        The passes of an ending that begins here.
    ending_stops : tuple of int
        The passes of an ending whose bracket stops at the end of the bar.
    section : str
        A rehearsal letter or name.
    signs : tuple of str
        ``segno``, ``coda``, ``to coda``, ``fine``, ``last time``, and a jump as it is printed:
        ``D.C.``, ``D.S. al Coda``.
    """

    forward: bool = False
    backward: int = 0
    ending: tuple[int, ...] = ()
    ending_stops: tuple[int, ...] = ()
    section: str = ""
    signs: tuple[str, ...] = ()


STRAIGHT_ON = Road()


class Barline(StrEnum):
    """How a bar ends."""

    SINGLE = "single"
    DOUBLE = "double"
    FINAL = "final"


@dataclass(frozen=True, slots=True)
class ScoreBar:
    """One bar of a part.

    Attributes
    ----------
    number : int
        The form's bar number; 0 for a pickup.
    meter : Meter
    notes : tuple of ScoreNote
    chords : tuple of ChordText
    barline : Barline
        At the end of the bar.
    road : Road
    irregular : bool
        Need not be as long as its metre says.
    key : (int, str) or None
        A signature that begins here: fifths and mode.
    label : str
        The number as printed, where it is no plain number: ``X1``.
    slashes : bool
        A slash for each beat stands in the place of rests: the player makes the line.
    signs : tuple of PlaceSign
        Under the staff, in order.
    """

    number: int
    meter: Meter
    notes: tuple[ScoreNote, ...]
    _: KW_ONLY
    chords: tuple[ChordText, ...] = ()
    barline: Barline = Barline.SINGLE
    road: Road = STRAIGHT_ON
    irregular: bool = False
    key: tuple[int, str] | None = None
    label: str = ""
    slashes: bool = False
    signs: tuple[PlaceSign, ...] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Score:
    """One player's part.

    Attributes
    ----------
    title, label : str
        The piece, and the instrument as printed.
    key_fifths : int
        Written key signature: sharps positive, flats negative, -7 to 7.
    mode : str
        ``major``, ``minor`` or a church mode, as MusicXML names them.
    clef : Clef
    rise : Interval
        From concert up to the written pitch.
    program : int
        General MIDI program, 0 to 127.
    tempo_bpm : float or None
        Pulses a minute (see `halfstep.meter`); None states none.
    swing : bool or None
        False for straight eighths; None does not say.
    bars : tuple of ScoreBar
    bars_a_system : int
        Bars on one line where they fit.
    """

    title: str
    label: str
    key_fifths: int
    mode: str
    clef: Clef
    rise: Interval
    program: int
    tempo_bpm: float | None
    swing: bool | None
    bars: tuple[ScoreBar, ...]
    bars_a_system: int = 4
