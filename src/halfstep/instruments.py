"""Who plays it: transposition, written range, clef, break and breath.

Written pitch is what the player reads, concert pitch what sounds. `Instrument.rise`
is the interval from concert up to written, so an alto saxophone, which sounds a major
sixth below what it reads, has a rise of a major sixth.

Sources
-------
Transpositions and lowest notes: music21's instrument classes (guitar: common
practice; baritone saxophone's low A, horn's written C3: from memory; the double bass goes as far
down as `halfstep.listen` hears). Highest notes and the narrower
ranges of the levels: common practice, no source; defaults a teacher changes. So are the
notes that lie well. Awkward notes: fingering charts and slide positions from memory; what
is awkward is common practice, no source.
Program numbers: General MIDI, counted from 0.
"""

from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from halfstep.errors import BriefError, did_you_mean
from halfstep.level import Level
from halfstep.pitch import OCTAVE, UNISON, Interval, Pitch, parse_pitch


class Clef(StrEnum):
    """The clef a part is written in."""

    TREBLE = "treble"
    BASS = "bass"


class Striking(StrEnum):
    """How many notes are struck at once, and by what."""

    ONE_NOTE = "one note"
    STRINGS = "strings under one hand"
    KEYS = "keys"


@dataclass(frozen=True, slots=True)
class Compass:
    """A range of written notes, both ends included."""

    low: Pitch
    high: Pitch

    def __contains__(self, pitch: Pitch) -> bool:
        return self.low.midi <= pitch.midi <= self.high.midi

    def __str__(self) -> str:
        return f"{self.low} to {self.high}"


class Instrument(NamedTuple):
    """One line of the table of instruments.

    Attributes
    ----------
    key : str
        The word a user types.
    label : str
        The name printed on a part.
    rise : Interval
        From concert up to written pitch.
    clef : Clef
    program : int
        General MIDI program, 0 to 127.
    compasses : tuple of Compass
        Written range at each `Level`, in order.
    breath : bool
        True for players who must breathe.
    break_midi : int or None
        Written MIDI number of the highest note below the register break.
    easy : Compass or None
        Written notes that lie well under the hand or the lip: no palm keys, no low keys of
        one finger, no high register; None where all are alike.
    awkward : tuple of str
        Written notes of which any two are hard to alternate: one finger must slide from key
        to key, side or palm keys follow one another, the register break lies between, or a
        slide or three valves must move far. Lists of names, with commas between them.
    striking : Striking
    """

    key: str
    label: str
    rise: Interval
    clef: Clef
    program: int
    compasses: tuple[Compass, Compass, Compass]
    breath: bool = True
    break_midi: int | None = None
    easy: Compass | None = None
    awkward: tuple[str, ...] = ()
    striking: Striking = Striking.ONE_NOTE

    def compass(self, level: Level) -> Compass:
        """The written range at ``level``."""
        return self.compasses[list(Level).index(level)]

    def written(self, concert: Pitch) -> Pitch:
        """What the player reads for a sounding pitch."""
        return concert + self.rise

    def concert(self, written: Pitch) -> Pitch:
        """What sounds for a pitch the player reads."""
        return written - self.rise


_MAJOR_SECOND = Interval(1, 2)
_PERFECT_FIFTH = Interval(4, 7)
_MAJOR_SIXTH = Interval(5, 9)
_SAX_BREAK = 73  # written C#5; the next note, D5, closes the tube and adds the octave key
_CLARINET_BREAK = 70  # written Bb4; B4 closes the tube and adds the register key


def _compasses(*ranges: str) -> tuple[Compass, Compass, Compass]:
    ends = [Compass(*map(parse_pitch, span.split("-"))) for span in ranges]
    return (ends[0], ends[1], ends[2])


def _from_to(text: str) -> Compass:
    return _compasses(text, text, text)[0]


_SAX_EASY = _from_to("D4-C#6")  # C#, B and Bb below share a finger; D6 begins the palm keys
_SAX = _compasses("G4-C6", "C4-D6", "Bb3-F6")
_SAX_AWKWARD = (
    "Bb3 B3 C#4 G#4",  # the left little finger's table
    "C4 Eb4",  # the right little finger
    "C5 D5, C#5 D5, C#5 Eb5",  # from an open tube to a closed one
    "Bb4 B4, Bb4 C5, Bb5 B5, Bb5 C6",  # side keys
    "D6 Eb6 E6 F6",  # palm keys
)
_CLARINET_AWKWARD = (
    "E3 F3 F#3 G#3, B4 C5 C#5 Eb5",  # the little fingers
    "G#4 A4 Bb4",  # the left first finger and thumb
    "A4 B4, Bb4 B4, A4 C5, Bb4 C5",  # the break
)
_BASS_CLARINET_AWKWARD = (
    "Eb3 E3 F3 F#3 G#3, B4 C5 C#5 Eb5",  # the little fingers, with one key more on the left
    *_CLARINET_AWKWARD[1:],
)
_FLUTE_AWKWARD = (
    "C4 C#4 Eb4",  # the right little finger
    "C5 D5, C#5 D5, C#5 Eb5",  # from an open tube to a closed one
)
_TRUMPET_AWKWARD = (
    "F#3 G#3, G3 G#3, C#4 Eb4, D4 Eb4, Eb4 E4, G#4 A4, G4 G#4",  # the third valve to and fro
)
_TROMBONE_AWKWARD = (
    "E2 A2, E2 Bb2, F2 Bb2, A2 B2, Bb2 B2, A2 C3, Bb2 C3, E3 B2, F3 B2, F3 C3",
    # five positions of the slide or six
)

INSTRUMENTS: dict[str, Instrument] = {
    instrument.key: instrument
    for instrument in (
        Instrument(
            "concert", "Concert pitch", UNISON, Clef.TREBLE, 0,
            _compasses("C4-F5", "Bb3-C6", "G3-F6"), breath=False, striking=Striking.KEYS,
        ),
        Instrument(
            "soprano-sax", "Soprano saxophone", _MAJOR_SECOND, Clef.TREBLE, 64,
            _SAX, break_midi=_SAX_BREAK, easy=_SAX_EASY, awkward=_SAX_AWKWARD,
        ),
        Instrument(
            "alto-sax", "Alto saxophone", _MAJOR_SIXTH, Clef.TREBLE, 65,
            _SAX, break_midi=_SAX_BREAK, easy=_SAX_EASY, awkward=_SAX_AWKWARD,
        ),
        Instrument(
            "tenor-sax", "Tenor saxophone", _MAJOR_SECOND + OCTAVE, Clef.TREBLE, 66,
            _SAX, break_midi=_SAX_BREAK, easy=_SAX_EASY, awkward=_SAX_AWKWARD,
        ),
        Instrument(
            "baritone-sax", "Baritone saxophone", _MAJOR_SIXTH + OCTAVE, Clef.TREBLE, 67,
            _compasses("G4-C6", "C4-D6", "A3-F6"), break_midi=_SAX_BREAK, easy=_SAX_EASY,
            awkward=_SAX_AWKWARD,
        ),
        Instrument(
            "trumpet", "Trumpet", _MAJOR_SECOND, Clef.TREBLE, 56,
            _compasses("C4-E5", "A3-A5", "F#3-C6"), easy=_from_to("B3-G5"),
            awkward=_TRUMPET_AWKWARD,
        ),
        Instrument(
            "clarinet", "Clarinet", _MAJOR_SECOND, Clef.TREBLE, 71,
            _compasses("E3-A4", "E3-A5", "E3-F6"), break_midi=_CLARINET_BREAK,
            easy=_from_to("E3-C6"), awkward=_CLARINET_AWKWARD,
        ),
        Instrument(
            "bass-clarinet", "Bass clarinet", _MAJOR_SECOND + OCTAVE, Clef.TREBLE, 71,
            _compasses("E3-A4", "E3-A5", "Eb3-E6"), break_midi=_CLARINET_BREAK,
            easy=_from_to("E3-C6"), awkward=_BASS_CLARINET_AWKWARD,
        ),
        Instrument(
            "flute", "Flute", UNISON, Clef.TREBLE, 73,
            _compasses("F4-C6", "D4-F6", "C4-C7"), easy=_from_to("E4-D6"),
            awkward=_FLUTE_AWKWARD,
        ),
        Instrument(
            "horn", "Horn in F", _PERFECT_FIFTH, Clef.TREBLE, 60,
            _compasses("C4-C5", "G3-F5", "C3-A5"), easy=_from_to("G3-E5"),
        ),
        Instrument(
            "trombone", "Trombone", UNISON, Clef.BASS, 57,
            _compasses("Bb2-D4", "F2-F4", "E2-C5"), easy=_from_to("G2-D4"),
            awkward=_TROMBONE_AWKWARD,
        ),
        Instrument(
            "violin", "Violin", UNISON, Clef.TREBLE, 40,
            _compasses("D4-B5", "G3-B5", "G3-E6"), breath=False,
        ),
        Instrument(
            "double-bass", "Double bass", OCTAVE, Clef.BASS, 32,
            _compasses("C3-C4", "C3-E4", "C3-G4"), breath=False,  # the ear begins at C2
        ),
        Instrument(
            "guitar", "Guitar", OCTAVE, Clef.TREBLE, 26,
            _compasses("E3-G5", "E3-C6", "E3-E6"), breath=False, striking=Striking.STRINGS,
        ),
        Instrument(
            "piano", "Piano", UNISON, Clef.TREBLE, 0,
            _compasses("C4-G5", "Bb3-C6", "G3-F6"), breath=False, striking=Striking.KEYS,
        ),
        Instrument(
            "voice", "Voice", UNISON, Clef.TREBLE, 53,
            _compasses("A3-D5", "A3-F5", "G3-A5"),
        ),
    )
}  # fmt: skip
"""The instruments, by the word a user types."""


_LEFT_HAND = _from_to("C3-G4")  # where thirds and sevenths neither growl nor cover the line


def left_hand(instrument: Instrument) -> Instrument:
    """A keyboard's left hand, which has its own clef and range at every level."""
    return instrument._replace(clef=Clef.BASS, compasses=(_LEFT_HAND,) * 3)


def find_instrument(key: str) -> Instrument:
    """The instrument of that name.

    Raises
    ------
    BriefError
        When there is none; the message lists those there are.
    """
    try:
        return INSTRUMENTS[key.strip().lower()]
    except KeyError:
        known = ", ".join(INSTRUMENTS)
        raise BriefError(
            f"no instrument is called {key!r}{did_you_mean(key, INSTRUMENTS)}; choose from {known}"
        ) from None
