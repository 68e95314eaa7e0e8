"""Who plays it: transposition, written range, clef, break and breath.

Written pitch is what the player reads, concert pitch what sounds. `Instrument.rise`
is the interval from concert up to written, so an alto saxophone, which sounds a major
sixth below what it reads, has a rise of a major sixth.

Sources
-------
Transpositions and lowest notes: music21's instrument classes (guitar: common
practice; baritone saxophone's low A: from memory). Highest notes and the narrower
ranges of the levels: common practice, no source; defaults a teacher changes. So are the
notes that lie well.
Program numbers: General MIDI, counted from 0.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum

from halfstep.errors import BriefError
from halfstep.level import Level
from halfstep.pitch import OCTAVE, UNISON, Interval, Pitch, parse_pitch


class Clef(StrEnum):
    """The clef a part is written in."""

    TREBLE = "treble"
    BASS = "bass"


@dataclass(frozen=True, slots=True)
class Compass:
    """A range of written notes, both ends included."""

    low: Pitch
    high: Pitch

    def __contains__(self, pitch: Pitch) -> bool:
        return self.low.midi <= pitch.midi <= self.high.midi

    def __str__(self) -> str:
        return f"{self.low} to {self.high}"


@dataclass(frozen=True, slots=True)
class Instrument:
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

INSTRUMENTS: dict[str, Instrument] = {
    instrument.key: instrument
    for instrument in (
        Instrument(
            "concert", "Concert pitch", UNISON, Clef.TREBLE, 0,
            _compasses("C4-F5", "Bb3-C6", "G3-F6"), breath=False,
        ),
        Instrument(
            "soprano-sax", "Soprano saxophone", _MAJOR_SECOND, Clef.TREBLE, 64,
            _SAX, break_midi=_SAX_BREAK, easy=_SAX_EASY,
        ),
        Instrument(
            "alto-sax", "Alto saxophone", _MAJOR_SIXTH, Clef.TREBLE, 65,
            _SAX, break_midi=_SAX_BREAK, easy=_SAX_EASY,
        ),
        Instrument(
            "tenor-sax", "Tenor saxophone", _MAJOR_SECOND + OCTAVE, Clef.TREBLE, 66,
            _SAX, break_midi=_SAX_BREAK, easy=_SAX_EASY,
        ),
        Instrument(
            "baritone-sax", "Baritone saxophone", _MAJOR_SIXTH + OCTAVE, Clef.TREBLE, 67,
            _compasses("G4-C6", "C4-D6", "A3-F6"), break_midi=_SAX_BREAK, easy=_SAX_EASY,
        ),
        Instrument(
            "trumpet", "Trumpet", _MAJOR_SECOND, Clef.TREBLE, 56,
            _compasses("C4-E5", "A3-A5", "F#3-C6"), easy=_from_to("B3-G5"),
        ),
        Instrument(
            "clarinet", "Clarinet", _MAJOR_SECOND, Clef.TREBLE, 71,
            _compasses("E3-A4", "E3-A5", "E3-F6"), break_midi=_CLARINET_BREAK,
            easy=_from_to("E3-C6"),
        ),
        Instrument(
            "flute", "Flute", UNISON, Clef.TREBLE, 73,
            _compasses("F4-C6", "D4-F6", "C4-C7"), easy=_from_to("E4-D6"),
        ),
        Instrument(
            "trombone", "Trombone", UNISON, Clef.BASS, 57,
            _compasses("Bb2-D4", "F2-F4", "E2-C5"), easy=_from_to("G2-D4"),
        ),
        Instrument(
            "guitar", "Guitar", OCTAVE, Clef.TREBLE, 26,
            _compasses("E3-G5", "E3-C6", "E3-E6"), breath=False,
        ),
        Instrument(
            "piano", "Piano (one line)", UNISON, Clef.TREBLE, 0,
            _compasses("C4-G5", "Bb3-C6", "G3-F6"), breath=False,
        ),
        Instrument(
            "voice", "Voice", UNISON, Clef.TREBLE, 53,
            _compasses("A3-D5", "A3-F5", "G3-A5"),
        ),
    )
}  # fmt: skip
"""The instruments, by the word a user types."""


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
        raise BriefError(f"no instrument is called {key!r}; choose from {known}") from None
