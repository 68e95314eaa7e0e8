"""Which scale over this chord, here? Ranked choices, each with its reason.

The choice is made by the symbol **and** by where the chord goes. Each row of the table
of rules is a condition, the scales it offers in order, and the reason in one sentence;
the first row that applies and offers a scale holding every tone of the chord gives the
first choice, the later ones the other choices.

Source: common practice, no source; rows held against an open jazz improvisation primer
(see the tests).
"""

from collections.abc import Callable, Iterator
from functools import lru_cache
from typing import NamedTuple

from halfstep.harmony.chord_in_key import degree_in, falls_a_fifth, is_dominant, is_minor, is_tonic
from halfstep.harmony.function import (
    SOUNDS_AS,
    ChordPlace,
    deceives,
    is_minor_goal,
    moves_a_voice,
    over_pedal,
    rises_to_tonic,
    substitutes,
    words_of,
)
from halfstep.harmony.scales import MODES, Scale, find_mode, mode_steps, scale_over
from halfstep.harmony.tones import chord_degrees, chord_steps
from halfstep.level import Level
from halfstep.pitch import Degree
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol
from halfstep.wording import joined_by_and


class Reason(NamedTuple):
    """Why a scale: a sentence with places for the chords, the key and the notes it speaks of.

    A part in another key says the same of its own chords, in a place of its own.

    Attributes
    ----------
    text : str
        With places as `words_of` names them, and numbered ones for notes.
    place : ChordPlace
    degrees : tuple of Degree
        The notes, over the chord's root.
    """

    text: str
    place: ChordPlace
    degrees: tuple[Degree, ...] = ()

    def sentence(self) -> str:
        """The sentence, with the names of its place."""
        notes = (self.place.symbol.root + degree.interval for degree in self.degrees)
        return self.text.format(*notes, **words_of(self.place))


class ScaleChoice(NamedTuple):
    """A scale and why: the first one by the chord's place, another by what it has instead."""

    scale: Scale
    reason: Reason


class _Rule(NamedTuple):
    """A row of the table: when, which scales in order, and why."""

    applies: Callable[[ChordPlace], bool]
    labels: str | Callable[[ChordPlace], str]
    reason: str

    def labels_at(self, place: ChordPlace) -> list[str]:
        """The scales that are offered in a place."""
        labels = self.labels if isinstance(self.labels, str) else self.labels(place)
        return labels.split("|") if labels else []


def _has(place: ChordPlace, *degrees: str) -> bool:
    """True when the symbol alters or adds all those degrees."""
    signs = {degree.ascii for degree in (*place.symbol.altered, *place.symbol.added)}
    return set(degrees) <= signs


def _dominant(place: ChordPlace) -> bool:
    return is_dominant(place.symbol) or place.symbol.alt


def _falls(place: ChordPlace) -> bool:
    return falls_a_fifth(place.symbol, place.after)


def _to_minor(place: ChordPlace) -> bool:
    return _falls(place) and is_minor_goal(place.after)


def _plain_dominant(place: ChordPlace) -> bool:
    return _dominant(place) and not place.symbol.altered and not place.symbol.alt


def _family(*families: Family) -> Callable[[ChordPlace], bool]:
    return lambda place: place.symbol.family in families


def _major_triad(place: ChordPlace) -> bool:
    return place.symbol.family is Family.MAJOR and place.symbol.seventh is None


def _is_major_tonic(place: ChordPlace) -> bool:
    return place.symbol.family is Family.MAJOR and is_tonic(place.symbol, place.key)


def _is_led_to(place: ChordPlace) -> bool:
    """A major chord that the one before it has led to, as to a tonic."""
    led = falls_a_fifth(place.before, place.symbol) and not place.opens
    return place.symbol.family is Family.MAJOR and led


def _minor_tonic(place: ChordPlace) -> bool:
    return place.key.minor and is_tonic(place.symbol, place.key)


def _fifth_of_minor(place: ChordPlace) -> bool:
    """V of a minor key that does not fall to a major chord."""
    turned_major = _falls(place) and not is_minor(place.after)
    return place.key.minor and degree_in(place.symbol, place.key) == 7 and not turned_major


def _leads_to_minor(place: ChordPlace) -> bool:
    """A diminished seventh a half step below a minor chord."""
    diminished = place.symbol.family is Family.DIMINISHED and place.symbol.seventh is not None
    return diminished and place.rise == 1 and is_minor(place.after)


def _moving_bass(place: ChordPlace) -> bool:
    """A minor chord while the bass falls through its seventh and sixth."""
    falls = place.bass_above in {8, 9, 10, 11} and place.symbol.family is Family.MINOR
    return falls and moves_a_voice(place)


_LINE_SCALES = {
    11: "melodic minor|harmonic minor", 10: "Dorian|Aeolian", 9: "Dorian|melodic minor",
    8: "Aeolian",
}  # fmt: skip


def _over_foreign_bass(place: ChordPlace) -> bool:
    """A chord whose bass is none of its tones, nor its seventh or a pedal."""
    symbol = place.symbol
    if symbol.bass is None or over_pedal(place) or _moving_bass(place):
        return False
    return place.bass_above not in chord_steps(symbol) and bool(_sounding(place))


def _sounding(place: ChordPlace) -> tuple[str, str] | None:
    return SOUNDS_AS.get(place.symbol.family, {}).get(place.bass_above)


def _foreign_labels(place: ChordPlace) -> str:
    """The scale of the chord that sounds on the bass, as the mode that begins on the root."""
    foreign = _sounding(place)
    bass = place.symbol.bass
    if foreign is None or bass is None:
        return ""
    notes = scale_over(bass, foreign[1]).pitch_classes
    root = place.symbol.root.pitch_class
    steps = {(note - root) % 12 for note in notes}
    same = (label for label in MODES if mode_steps(label) == steps)
    return "|".join(same)


_OF_THE_SIXTH = {
    (5, True): 1, (7, True): 1, (8, False): 1, (10, False): 1,  # iv, v, ♭VI, ♭VII
    (5, False): -1, (2, True): -1,  # IV, ii: the major sixth of Dorian
}  # fmt: skip
"""What a neighbour of a minor tonic says for the minor sixth: by its semitones over the
tonic and whether its third is minor."""


def says_minor_sixth(place: ChordPlace) -> int:
    """How many neighbours of a minor tonic hold the ♭6 or ♭7 of its key, less those that hold
    the major sixth; 0 for any other chord.
    """
    if not _minor_tonic(place):
        return 0
    neighbours = (n for n in (place.before, place.after) if not n.silent)
    return sum(
        _OF_THE_SIXTH.get((degree_in(n, place.key), is_minor(n)), 0)
        for n in neighbours
        if n.family is not Family.HALF_DIMINISHED
    )


def _with_minor_sixth(place: ChordPlace) -> bool:
    """The tonic of a natural minor key, unless it states a sixth or seventh of its own."""
    states_another = place.symbol.sixth or place.symbol.seventh == Degree(7)
    return place.natural_minor and _minor_tonic(place) and not states_another


def diatonic_label(place: ChordPlace) -> str:
    """The key's mode on the chord's root; empty when the root is not in the key."""
    over_major = (place.symbol.root.pitch_class - 7 * place.key.fifths) % 12
    steps = [degree.semitones for degree in MODES["Ionian"].degrees]
    return _MODES_IN_ORDER[steps.index(over_major)] if over_major in steps else ""


_MODES_IN_ORDER = ("Ionian", "Dorian", "Phrygian", "Lydian", "Mixolydian", "Aeolian", "Locrian")


def _inside(place: ChordPlace) -> bool:
    """True when the key's mode on the root holds the chord."""
    label = diatonic_label(place)
    return bool(label) and not _missing(chord_steps(place.symbol), label)


_HELD = "it holds every tone of the chord"
_NEAREST = "no scale holds every tone of the chord; this one lacks the fewest"

_WHOLE_STEP_ABOVE = "a whole step lies over each chord tone"

_suspended = _family(Family.SUS4, Family.SUS2)

_RULES = (
    _Rule(_over_foreign_bass, _foreign_labels, "over {bass} it sounds as {sounding}"),
    _Rule(
        _moving_bass,
        lambda p: _LINE_SCALES[p.bass_above],
        "the bass falls through {bass} while {root} minor stays",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.SUS4 and _has(p, "b9"),
        "Phrygian|Phrygian dominant",
        "♭9 over a fourth in place of the third",
    ),
    _Rule(
        lambda p: p.symbol.alt,
        "altered",
        "“alt” asks for ♭9, ♯9, ♭5, ♯5: melodic minor a half step up",
    ),
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
        "♯11 is written",
    ),
    _Rule(
        lambda p: _suspended(p) and p.symbol.seventh is None and bool(diatonic_label(p)),
        diatonic_label,
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
        lambda p: _leads_to_minor(p) and is_tonic(p.after, p.key),
        "Locrian ♭4 𝄫7|whole-half diminished",
        "vii° of {key}: its harmonic minor",
    ),
    _Rule(
        _leads_to_minor,
        "whole-half diminished|Locrian ♭4 𝄫7",
        _WHOLE_STEP_ABOVE,
    ),
    _Rule(
        lambda p: p.symbol.family is Family.DIMINISHED and p.symbol.seventh is not None,
        "whole-half diminished",
        _WHOLE_STEP_ABOVE,
    ),
    _Rule(
        lambda p: _plain_dominant(p) and _to_minor(p),
        "Phrygian dominant|Mixolydian ♭6|Mixolydian|altered",
        "it falls a fifth to a minor chord: {target} harmonic minor",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and p.blues,
        "Mixolydian|bebop dominant|Lydian dominant",
        "I7 and IV7 of a blues are at rest, each in its own Mixolydian",
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
        lambda p: _plain_dominant(p) and substitutes(p),
        "Lydian dominant|Mixolydian|bebop dominant",
        "its ♯11 is the root of {fifth}7",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and rises_to_tonic(p),
        "Lydian dominant|Mixolydian|bebop dominant",
        "♭VII7 goes up a step to {after}: its ♯11 is the third of {key}",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and degree_in(p.symbol, p.key) in {0, 7},
        "Mixolydian|bebop dominant|Lydian dominant",
        "a dominant at home in {key}",
    ),
    _Rule(
        lambda p: _plain_dominant(p) and deceives(p),
        "Phrygian dominant|Mixolydian|altered",
        "a deceptive cadence: a minor chord of {key} was due, and {after} comes",
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
    _Rule(
        _with_minor_sixth,
        "Aeolian|Dorian|harmonic minor",
        "natural minor: the chords around it hold its minor sixth or seventh",
    ),
    _Rule(
        _minor_tonic,
        "Dorian|melodic minor|Aeolian|harmonic minor",
        "a minor tonic: its major sixth does not rub against the fifth",
    ),
    _Rule(
        lambda p: p.symbol.family is Family.HALF_DIMINISHED,
        "Locrian|Locrian ♮2",
        "it has ♭3, ♭5 and ♭7",
    ),
    _Rule(
        lambda p: _is_major_tonic(p) and p.key.mode != "mixolydian",
        "Ionian|Lydian|major pentatonic|bebop major",
        "it is the scale of {key}; the 4th is a passing note",
    ),
    _Rule(
        lambda p: bool(diatonic_label(p)) and is_tonic(p.symbol, p.key),
        diatonic_label,
        "it is the scale of {key}",
    ),
    _Rule(
        lambda p: bool(diatonic_label(p)), diatonic_label, "it is the scale of {key} from {root}"
    ),
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
        _is_led_to,
        "Ionian|Lydian",
        "a tonic for a moment takes the plain major scale",
    ),
    _Rule(lambda p: _family(Family.MAJOR, Family.POWER)(p) and _inside(p), "Lydian|Ionian", _HELD),
    _Rule(
        _family(Family.MAJOR, Family.POWER),
        "Lydian|Ionian",
        "from outside the key: its ♯4 does not rub against its third",
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
        "from outside the key: its major sixth does not rub against its fifth",
    ),
    _Rule(_family(Family.AUGMENTED), "whole-tone|Lydian augmented", "it holds the raised fifth"),
    _Rule(
        _family(Family.DIMINISHED),
        "whole-half diminished|Locrian",
        _WHOLE_STEP_ABOVE,
    ),
)
_EVERY_MODE = "|".join(label for label in MODES if len(MODES[label].degrees) >= 6)
_LAST = _Rule(lambda _: True, _EVERY_MODE, _HELD)

_COLOURS = {
    "Ionian": "the plain major scale",
    "Dorian": "its major sixth does not rub against the fifth",
    "Phrygian": "its ♭2 leans on the root",
    "Lydian": "its ♯4 does not rub against the third",
    "Mixolydian": "the plain scale of a dominant",
    "Aeolian": "its ♭6 leans on the fifth",
    "Locrian": "the plain scale with a ♭5",
    "melodic minor": "its major seventh leads to the root",
    "Dorian ♭2": "its ♭2 leans on the root, its sixth is major",
    "Lydian augmented": "its fourth and fifth are raised",
    "Lydian dominant": "its ♯4 does not rub against the third",
    "Mixolydian ♭6": "its ♭13 leans on the fifth, its 9 is natural",
    "Locrian ♮2": "its second does not rub against the root",
    "altered": "every note but 1 3 ♭7 is altered, for the most tension",
    "harmonic minor": "its ♭6 leans on the fifth, its major seventh leads to the root",
    "Locrian ♮6": "a ♭5 with a major sixth",
    "Ionian ♯5": "the major scale with its fifth raised",
    "Dorian ♯4": "its ♯4 leans on the fifth",
    "Phrygian dominant": "its ♭9 and ♭13 lead down as in a minor key",
    "Lydian ♯2": "its ♯2 leans on the third",
    "Locrian ♭4 𝄫7": "a harmonic minor scale from its seventh note",
    "whole-tone": "nothing but whole steps",
    "half-whole diminished": "♭9 and ♯9 with a natural 13",
    "whole-half diminished": "a whole step over each chord tone of a diminished seventh",
    "major pentatonic": "five notes that do not rub",
    "minor pentatonic": "five notes that do not rub",
    "minor blues": "its ♭5 slides into the notes beside it",
    "major blues": "its ♭3 slides up to the third",
    "bebop dominant": "eight notes keep the chord tones on the beat",
    "bebop major": "eight notes keep the chord tones on the beat",
}
"""What a kind of scale brings with it, beside others over the same chord."""

_SIMPLER = {
    "Lydian dominant": "Mixolydian",
    "half-whole diminished": "Phrygian dominant",
    "Mixolydian ♭6": "Phrygian dominant",
    "Locrian ♮2": "Locrian",
    "melodic minor": "Dorian",
}
"""What a beginner is given instead, where the chord allows it."""


@lru_cache(maxsize=4096)
def scale_choices(
    place: ChordPlace, *, level: Level = Level.INTERMEDIATE, chosen: str = ""
) -> tuple[ScaleChoice, ...]:
    """Scales for a chord, best first; never empty unless the chord is silent.

    Parameters
    ----------
    place : ChordPlace
    level : Level
        A beginner gets the simpler scale first where two would do.
    chosen : str
        The kind of scale that a teacher sets, which stands first whatever it holds.

    Raises
    ------
    ReadError
        When no scale is called so.
    """
    if place.symbol.silent:
        return ()
    offers = {find_mode(chosen).label: _CHOSEN} if chosen else {}
    for label, text in _offers(place):
        offers.setdefault(label, text)
    simpler = _SIMPLER.get(next(iter(offers)), "")
    if not chosen and level is Level.BEGINNER and simpler in offers:
        offers = {simpler: _PLAINEST} | {k: v for k, v in offers.items() if k != simpler}
    (label, text), *others = offers.items()
    first = _scale(place, label)
    beside = (_beside(first, _scale(place, other), place) for other, _ in others[:4])
    return (ScaleChoice(first, Reason(text, place)), *beside)


_CHOSEN = "the teacher has set it"
_PLAINEST = "the plainest scale that holds the chord"


def _beside(first: Scale, other: Scale, place: ChordPlace) -> ScaleChoice:
    """Another choice: the notes it has for those of the first, and what they do."""
    came = _not_in(first, other)
    gone = _not_in(other, first)
    names = [f"{{{place}}}" for place in range(len(came) + len(gone))]
    new, old = joined_by_and(names[: len(came)]), joined_by_and(names[len(came) :])
    notes = f"{new} for {old}" if new and old else f"with {new}" if new else f"without {old}"
    text = f"{notes}: {_COLOURS[other.mode.label]}"
    return ScaleChoice(other, Reason(text, place, (*came, *gone)))


def _not_in(scale: Scale, other: Scale) -> list[Degree]:
    """The degrees of the second scale that do not sound in the first."""
    sounding = scale.pitch_classes
    return [n.degree for n in other.notes if n.name.pitch_class not in sounding]


def _offers(place: ChordPlace) -> Iterator[tuple[str, str]]:
    """Labels with reasons from every row that applies, in the table's order.

    A row's reason speaks of its first scale; the others it names only hold the chord.
    Scales that hold the bass as well come first; where none does, the bass is a pedal.
    """
    degrees = chord_steps(place.symbol)
    for held in (degrees | {place.bass_above}, degrees):
        is_offered = False
        for rule in _RULES:
            if rule.applies(place):
                labels = rule.labels_at(place)
                for label in labels:
                    if _holds(place.symbol, label, held):
                        is_offered = True
                        yield label, rule.reason if label == labels[0] else _HELD
        if is_offered:
            return
    labels = sorted(_EVERY_MODE.split("|"), key=lambda label: _missing(degrees, label))
    yield labels[0], _NEAREST


def _missing(degrees: frozenset[int], label: str) -> int:
    return len(degrees - mode_steps(label))


def _holds(symbol: ChordSymbol, label: str, held: frozenset[int]) -> bool:
    """True when the scale has all those tones, in semitones over the root.

    The altered scale may lack the natural fifth, which players leave out of 7♯9, and
    no other holds the colours that “alt” asks for.
    """
    if symbol.alt:
        return label == "altered"
    return not _missing(held - {7} if label == "altered" else held, label)


def _scale(place: ChordPlace, label: str) -> Scale:
    return scale_over(place.symbol.root, label, chord_degrees(place.symbol))
