"""Which scale over this chord, here? Ranked choices, each with its reason.

The choice is made by the symbol **and** by where the chord goes. Each row of the table
of rules is a condition, the scales it offers in order, and the reason in one sentence;
the first row that applies and offers a scale holding every tone of the chord gives the
first choice, the later ones the other choices.

Source: common practice, no source; rows held against an open jazz improvisation primer
(see the tests).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from halfstep.harmony.locality import degree_in, falls_a_fifth, is_dominant, is_minor, is_tonic
from halfstep.harmony.scales import MODES, Scale, scale_over
from halfstep.harmony.tones import chord_degrees
from halfstep.instruments import Level
from halfstep.pitch import UNISON, Degree, Interval
from halfstep.progression.key import Key
from halfstep.progression.symbol import ChordSymbol, Family


@dataclass(frozen=True, slots=True)
class Place:
    """A chord where it stands.

    Attributes
    ----------
    symbol, before, after : ChordSymbol
        The chord and its neighbours, around the loop.
    key : Key
        Local key.
    blues : bool
        True for I and IV of a blues.
    """

    symbol: ChordSymbol
    before: ChordSymbol
    after: ChordSymbol
    key: Key
    blues: bool = False


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a scale: a sentence with places for the chords and the key it speaks of.

    A part in another key says the same of its own chords.
    """

    text: str
    place: Place

    def said(self, interval: Interval = UNISON) -> str:
        """The sentence, with everything it names an interval higher."""
        place = self.place
        return self.text.format(
            before=place.before.moved(interval),
            after=place.after.moved(interval),
            target=place.after.root + interval,
            key=place.key.moved(interval),
            root=place.symbol.root + interval,
        )


@dataclass(frozen=True, slots=True)
class ScaleChoice:
    """A scale and why."""

    scale: Scale
    reason: Reason


@dataclass(frozen=True, slots=True)
class _Rule:
    """A row of the table: when, which scales in order, and why."""

    applies: Callable[[Place], bool]
    labels: str
    reason: str


def _has(place: Place, *degrees: str) -> bool:
    """True when the symbol alters or adds all those degrees."""
    said = {degree.ascii for degree in (*place.symbol.altered, *place.symbol.added)}
    return set(degrees) <= said


def _dominant(place: Place) -> bool:
    return is_dominant(place.symbol) or place.symbol.alt


def _falls(place: Place) -> bool:
    return falls_a_fifth(place.symbol, place.after)


def _to_minor(place: Place) -> bool:
    return _falls(place) and is_minor(place.after)


def _plain_dominant(place: Place) -> bool:
    return _dominant(place) and not place.symbol.altered and not place.symbol.alt


def _family(*families: Family) -> Callable[[Place], bool]:
    return lambda place: place.symbol.family in families


def _major_triad(place: Place) -> bool:
    return place.symbol.family is Family.MAJOR and place.symbol.seventh is None


def _minor_tonic(place: Place) -> bool:
    return place.key.minor and is_tonic(place.symbol, place.key)


def _fifth_of_minor(place: Place) -> bool:
    """V of a minor key that does not fall to a major chord."""
    turned_major = _falls(place) and not is_minor(place.after)
    return place.key.minor and degree_in(place.symbol, place.key) == 7 and not turned_major


def _deceptive(place: Place) -> bool:
    """A dominant that leads to ii, iii or vi of a major key and steps up instead."""
    leads_to_minor = degree_in(place.symbol, place.key) in {4, 9, 11} and not place.key.minor
    rise = (place.after.root.pitch_class - place.symbol.root.pitch_class) % 12
    steps_up = rise in {1, 2} and not place.after.silent
    return _plain_dominant(place) and leads_to_minor and steps_up


_NATURAL_MINOR = {(5, True), (7, True), (8, False), (10, False)}
"""iv, v, ♭VI and ♭VII: semitones over the tonic, and whether the third is minor."""


def _natural_minor_here(place: Place) -> bool:
    """The tonic stands beside iv, v, ♭VI or ♭VII of its own key, which hold the ♭6 or ♭7."""
    if not _minor_tonic(place) or place.symbol.sixth or place.symbol.seventh == Degree(7):
        return False
    return any(
        (degree_in(each, place.key), is_minor(each)) in _NATURAL_MINOR
        for each in (place.before, place.after)
        if not each.silent
    )


def diatonic_label(place: Place) -> str:
    """The key's mode on the chord's root; empty when the root is not in the key."""
    parent = MODES["Aeolian" if place.key.minor else "Ionian"]
    steps = [degree.semitones for degree in parent.degrees]
    place_in_key = degree_in(place.symbol, place.key)
    if place_in_key not in steps:
        return ""
    modes = ["Ionian", "Dorian", "Phrygian", "Lydian", "Mixolydian", "Aeolian", "Locrian"]
    return modes[(steps.index(place_in_key) + (5 if place.key.minor else 0)) % 7]


def _inside(place: Place) -> bool:
    """True when the key's mode on the root holds the chord."""
    label = diatonic_label(place)
    degrees = {degree.semitones for degree in chord_degrees(place.symbol)}
    return bool(label) and not _missing(degrees, label)


_HELD = "it holds every tone of the chord"

_suspended = _family(Family.SUS4, Family.SUS2)

_RULES = (
    _Rule(
        lambda p: p.symbol.family is Family.SUS4 and _has(p, "b9"),
        "Phrygian|Phrygian dominant",
        "♭9 over a fourth in place of the third",
    ),
    _Rule(lambda p: p.symbol.alt, "altered", "“alt” asks for ♭9, ♯9, ♭5 and ♯5 around 1 3 ♭7"),
    _Rule(
        lambda p: p.blues and _has(p, "#9"),
        "half-whole diminished|altered",
        "♯9 on I or IV of a blues: half-whole keeps the natural 5",
    ),
    _Rule(
        lambda p: _dominant(p) and _has(p, "#9") and not _has(p, "b9", "b13"),
        "altered|half-whole diminished",
        "♯9 belongs to the altered scale, melodic minor a half step up",
    ),
    _Rule(
        lambda p: _dominant(p) and _has(p, "b9") and p.symbol.extension == 13,
        "half-whole diminished",
        "♭9 with a natural 13 is the half-whole scale",
    ),
    _Rule(
        lambda p: _dominant(p) and (_has(p, "b9") or _has(p, "b13")) and _to_minor(p),
        "Phrygian dominant|half-whole diminished|altered",
        "it falls a fifth to a minor chord: {target} harmonic minor",
    ),
    _Rule(
        lambda p: _dominant(p) and _has(p, "b9"),
        "half-whole diminished|Phrygian dominant|altered",
        "♭9 without a minor chord to fall to: the half-whole scale",
    ),
    _Rule(
        lambda p: _dominant(p) and (_has(p, "#5") or _has(p, "b5")) and not _has(p, "#11"),
        "whole-tone|altered",
        "an altered fifth alone: the whole-tone scale",
    ),
    _Rule(
        lambda p: _dominant(p) and _has(p, "b13"),
        "Mixolydian ♭6|Phrygian dominant|altered",
        "♭13 with a natural 9",
    ),
    _Rule(
        lambda p: _dominant(p) and _has(p, "#11"),
        "Lydian dominant|half-whole diminished|whole-tone",
        "♯11 is its own note here",
    ),
    _Rule(
        lambda p: _suspended(p) and p.symbol.seventh is None and bool(diatonic_label(p)),
        "",
        "it is the scale of {key} from {root}",
    ),
    _Rule(
        _family(Family.SUS4),
        "Mixolydian|Dorian|Phrygian|Aeolian",
        "the fourth is a chord tone and the third only passes",
    ),
    _Rule(
        _family(Family.SUS2),
        "Mixolydian|Ionian|Dorian|Aeolian",
        "the second is a chord tone and the third only passes",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.DIMINISHED and p.symbol.seventh is not None,
        "whole-half diminished",
        "a diminished seventh has the whole-half scale",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and _to_minor(p),
        "Phrygian dominant|Mixolydian ♭6|Mixolydian|altered",
        "it falls a fifth to a minor chord: {target} harmonic minor",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and p.blues,
        "Mixolydian|bebop dominant|Lydian dominant",
        "I and IV of a blues are each at home in Mixolydian",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and _falls(p),
        "Mixolydian|bebop dominant|Lydian dominant|half-whole diminished|altered",
        "it falls a fifth to {after}",
    ),
    _Rule(
        lambda p: (_plain_dominant(p) or _major_triad(p)) and _fifth_of_minor(p),
        "Phrygian dominant|Mixolydian ♭6|Mixolydian",
        "it is V of {key}: its harmonic minor",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and degree_in(p.symbol, p.key) in {0, 7},
        "Mixolydian|bebop dominant|Lydian dominant",
        "a dominant at home in {key}",
    ),
    _Rule(
        _deceptive,
        "Phrygian dominant|Mixolydian|altered",
        "it leads to a minor chord of {key}, though {after} comes instead",
    ),
    _Rule(
        _plain_dominant,
        "Lydian dominant|Mixolydian|bebop dominant",
        "a dominant that does not fall a fifth takes the ♯11",
    ),
    _Rule(
        lambda p: p.symbol.seventh == Degree(7) and _has(p, "#5"),
        "Lydian augmented",
        "a major seventh with ♯5",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.MAJOR and (_has(p, "#11") or _has(p, "b5")),
        "Lydian",
        "the raised fourth is written",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.MINOR and p.symbol.seventh == Degree(7),
        "melodic minor|harmonic minor",
        "a minor chord with a major seventh",
    ),
    _Rule(
        lambda p: _minor_tonic(p) and p.symbol.sixth,
        "melodic minor|Dorian",
        "a minor tonic with its major sixth",
    ),
    _Rule(_natural_minor_here, "Aeolian|Dorian|harmonic minor", "{key}, as its neighbours say"),
    _Rule(
        _minor_tonic,
        "Dorian|melodic minor|Aeolian|harmonic minor",
        "a minor tonic: the natural sixth is clear of the fifth",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.HALF_DIMINISHED,
        "Locrian|Locrian ♮2",
        "half-diminished: ♭5 over a minor third",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.MAJOR and is_tonic(p.symbol, p.key),
        "Ionian|Lydian|major pentatonic|bebop major",
        "it is I of {key}; the 4th is a passing note",
    ),
    _Rule(lambda p: bool(diatonic_label(p)), "", "it is the scale of {key} from {root}"),
    _Rule(
        lambda p: _major_triad(p) and _to_minor(p) and not _inside(p),
        "Phrygian dominant|Mixolydian ♭6|Mixolydian",
        "it falls a fifth to a minor chord: {target} harmonic minor",
    ),
    _Rule(
        lambda p: _major_triad(p) and _falls(p),
        "Mixolydian|Ionian",
        "it falls a fifth to {after}, like a dominant",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.MAJOR and falls_a_fifth(p.before, p.symbol),
        "Ionian|Lydian",
        "{before} has just led to it as to a tonic",
    ),
    _Rule(lambda p: _family(Family.MAJOR, Family.POWER)(p) and _inside(p), "Lydian|Ionian", _HELD),
    _Rule(
        _family(Family.MAJOR, Family.POWER),
        "Lydian|Ionian",
        "a major chord from outside {key}: its ♯4 rubs against nothing",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.MINOR and p.symbol.sixth,
        "melodic minor|Dorian",
        "a minor chord with its major sixth",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.MINOR and _inside(p),
        "Dorian|Aeolian|Phrygian|melodic minor",
        _HELD,
    ),
    _Rule(
        _family(Family.MINOR),
        "Dorian|Aeolian|Phrygian|melodic minor",
        "a minor chord from outside {key}",
    ),
    _Rule(_family(Family.AUGMENTED), "whole-tone|Lydian augmented", "an augmented triad"),
    _Rule(
        _family(Family.DIMINISHED),
        "whole-half diminished|Locrian",
        "a diminished triad",
    ),
)
_EVERY_MODE = "|".join(label for label in MODES if len(MODES[label].degrees) >= 6)
_LAST = _Rule(lambda _: True, _EVERY_MODE, _HELD)

_SIMPLER = {"Lydian dominant": "Mixolydian"}
"""What a beginner is given instead, where the chord allows it."""


def scale_choices(place: Place, *, level: Level = Level.INTERMEDIATE) -> tuple[ScaleChoice, ...]:
    """Scales for a chord, best first; never empty unless the chord is silent.

    Parameters
    ----------
    place : Place
    level : Level
        A beginner gets the simpler scale first where two would do.
    """
    if place.symbol.silent:
        return ()
    choices: dict[str, ScaleChoice] = {}
    for label, reason in _offers(place):
        choices.setdefault(label, ScaleChoice(_scale(place, label), reason))
    ranked = list(choices.values())
    simpler = _SIMPLER.get(ranked[0].scale.mode.label, "")
    if level is Level.BEGINNER and simpler in choices and not place.symbol.altered:
        easy = ScaleChoice(
            choices[simpler].scale, Reason("the plainest scale that holds the chord", place)
        )
        ranked = [easy, *(c for c in ranked if c.scale.mode.label != simpler)]
    return tuple(ranked[:5])


def _offers(place: Place) -> Iterator[tuple[str, Reason]]:
    """Labels with reasons from every row that applies, in the table's order.

    A row's reason speaks of its first scale; the others it names only hold the chord.
    Scales that hold the bass as well come first; where none does, the bass is a pedal.
    """
    degrees = {degree.semitones for degree in chord_degrees(place.symbol)}
    for held in (degrees | _bass_of(place.symbol), degrees):
        found = False
        for rule in _RULES:
            if rule.applies(place):
                labels = rule.labels.split("|") if rule.labels else [diatonic_label(place)]
                for label in labels:
                    if _holds(place.symbol, label, held):
                        found = True
                        text = rule.reason if label == labels[0] else _LAST.reason
                        yield label, Reason(text, place)
        if found:
            return
    labels = sorted(_EVERY_MODE.split("|"), key=lambda label: _missing(degrees, label))
    yield labels[0], Reason(_LAST.reason, place)


def _bass_of(symbol: ChordSymbol) -> set[int]:
    """The bass in semitones over the root; nothing without one."""
    if symbol.bass is None:
        return set()
    return {(symbol.bass.pitch_class - symbol.root.pitch_class) % 12}


def _missing(degrees: set[int], label: str) -> int:
    return len(degrees - {d.semitones for d in MODES[label].degrees})


def _holds(symbol: ChordSymbol, label: str, held: set[int]) -> bool:
    """True when the scale has all those tones, in semitones over the root.

    The altered scale may lack the natural fifth, which players leave out of 7♯9, and
    no other holds the colours that “alt” asks for.
    """
    if symbol.alt:
        return label == "altered"
    return not _missing(held - {7} if label == "altered" else held, label)


def _scale(place: Place, label: str) -> Scale:
    return scale_over(place.symbol.root, label, chord_degrees(place.symbol))
