"""What does this chord do here? Its role in the local key, as data that can say itself.

A role is found from the chord, its neighbours around the loop and the local key; the
first of the tests in `function_of` that holds decides. `SENTENCES` says each role in words,
with places for the chords and keys it speaks of, so that a part in another key says the
same of its own chords.

Around the loop the last chord leads to the first, but the first does not come from the
last: nobody has heard that one yet.

Source: common practice, no source.
"""

from collections.abc import Callable
from enum import StrEnum
from functools import lru_cache
from typing import NamedTuple

from halfstep.harmony.chord_in_key import (
    degree_in,
    falls_a_fifth,
    is_dominant,
    is_minor,
    is_tonic,
    numeral,
    numeral_of,
    rests_as_seventh,
)
from halfstep.harmony.tones import chord_tones
from halfstep.pitch import FIFTH, Interval, Name
from halfstep.progression.key import Key
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol, parse_symbol


class ChordPlace(NamedTuple):
    """A chord where it stands.

    Attributes
    ----------
    symbol, before, after : ChordSymbol
        The chord and its neighbours, around the loop.
    key : Key
        Local key.
    blues : bool
        True for I and IV of a blues.
    opens, closes : bool
        True for the first and for the last chord of the form.
    key_before, key_after : Key or None
        The local keys of the neighbours within the form; None at its ends.
    natural_minor : bool
        True where the key is a minor one that the chart takes with its minor sixth.
    """

    symbol: ChordSymbol
    before: ChordSymbol
    after: ChordSymbol
    key: Key
    blues: bool = False
    opens: bool = False
    closes: bool = False
    key_before: Key | None = None
    key_after: Key | None = None
    natural_minor: bool = False

    @property
    def rise(self) -> int | None:
        """Semitones from the root up to the next chord's, 0 to 11; None beside silence."""
        return _rise(self.symbol, self.after)

    @property
    def bass_above(self) -> int:
        """Semitones from the root up to the bass, 0 to 11."""
        bass = self.symbol.bass or self.symbol.root
        return (bass.pitch_class - self.symbol.root.pitch_class) % 12


SOUNDS_AS = {
    Family.MAJOR: {
        1: ("°(maj7)", "whole-half diminished"), 2: ("9sus4", "Mixolydian"),
        3: ("13♭9", "half-whole diminished"), 5: ("maj9", "Ionian"),
        6: ("7♭9♯11", "half-whole diminished"), 8: ("maj7♯5", "Lydian augmented"),
        9: ("m7", "Dorian"), 10: ("maj9♯11", "Lydian"), 11: ("7sus4♭9", "Phrygian"),
    },
    Family.MINOR: {
        1: ("maj9♯11", "Lydian"), 2: ("7sus4♭9", "Phrygian"), 5: ("9sus4", "Mixolydian"),
        8: ("maj7", "Ionian"), 9: ("ø7", "Locrian"),
    },
}  # fmt: skip
"""A triad or seventh over a foreign bass, so many semitones above its root, sounds as a
chord on the bass: its suffix, and the scale of that chord."""


class Role(StrEnum):
    """What a chord does in its local key."""

    SILENCE = "silence"
    TONIC = "tonic"
    TONIC_SEVENTH = "tonic with a minor seventh"
    DIATONIC = "diatonic"
    CADENCE = "dominant of a cadence"
    DECEPTIVE = "dominant of a deceptive cadence"
    DOMINANT = "dominant"
    SECONDARY_DOMINANT = "secondary dominant"
    SECONDARY_TWO = "two of a secondary dominant"
    TRITONE_SUBSTITUTE = "tritone substitute"
    BACKDOOR = "backdoor to the tonic"
    BORROWED = "borrowed"
    LEADING_DIMINISHED = "leading diminished"
    PASSING_DIMINISHED = "passing diminished"
    COMMON_TONE_DIMINISHED = "common-tone diminished"
    BLUES = "blues"
    LINE_CLICHE = "line cliché"
    PEDAL = "pedal"
    TONICISED = "tonicised"
    CHROMATIC = "chromatic"


SENTENCES = {
    Role.SILENCE: "no chord",
    Role.TONIC: "the tonic of {key}",
    Role.TONIC_SEVENTH: "the tonic of {key}, with a minor seventh",
    Role.DIATONIC: "{numeral} of {key}",
    Role.CADENCE: "the dominant of {key}: a cadence to {after}",
    Role.DECEPTIVE: "the dominant of {key}: a deceptive cadence, {after} comes for the tonic",
    Role.DOMINANT: "the dominant of {key}",
    Role.SECONDARY_DOMINANT: "the dominant of {target}, in {key}",
    Role.SECONDARY_TWO: "ii of {after}, which leads to {second}",
    Role.TRITONE_SUBSTITUTE: "it stands in for {fifth}7 and falls a half step to {after}",
    Role.BACKDOOR: "the backdoor: ♭VII7 of {key}, up a step to {after}",
    Role.BORROWED: "borrowed from {parallel}",
    Role.LEADING_DIMINISHED: "it leads up a half step to {after}",
    Role.PASSING_DIMINISHED: "it passes from {before} to {after}",
    Role.COMMON_TONE_DIMINISHED: "it embellishes {after}",
    Role.BLUES: "{numeral} of a blues in {tonic}",
    Role.LINE_CLICHE: "one voice moves while {root} stays",
    Role.PEDAL: "over a bass that stays on {bass}",
    Role.TONICISED: "{before} has led to it as to a tonic",
    Role.CHROMATIC: "from outside {key}",
}


class Function(NamedTuple):
    """The role of a chord in its place.

    Attributes
    ----------
    role : Role
    place : ChordPlace
    """

    role: Role
    place: ChordPlace

    @property
    def target(self) -> Name | None:
        """The root that the chord leads to, as the role says; None where it leads nowhere."""
        root = sounding_place(self.place).symbol.root
        if self.role is Role.SECONDARY_DOMINANT:
            return root + -FIFTH
        if self.role is Role.SECONDARY_TWO:
            return root + -_STEP
        if self.role in {Role.TRITONE_SUBSTITUTE, Role.LEADING_DIMINISHED}:
            return self.place.after.root
        return None

    @property
    def numeral(self) -> str:
        """The roman numeral in the local key, or in the key of the chord it leads to.

        >>> from halfstep.progression.key import parse_key
        >>> from halfstep.progression.symbol import parse_symbol
        >>> a7, d, c = map(parse_symbol, ("A7", "Dm7", "C"))
        >>> function_of(ChordPlace(a7, c, d, parse_key("C"))).numeral
        'V7/ii'
        """
        place, target = sounding_place(self.place), self.target
        if target is None:
            return numeral(place.symbol, place.key)
        minor = (is_minor_goal(place.after) and target == place.after.root) or deceives(place)
        minor |= self.role is Role.SECONDARY_TWO and place.symbol.family is Family.HALF_DIMINISHED
        goal = numeral_of(target, place.key)
        goal = goal.lower() if minor else goal
        as_five = {
            Role.SECONDARY_DOMINANT: "V",
            Role.SECONDARY_TWO: "ii",
            Role.TRITONE_SUBSTITUTE: "subV",
            Role.LEADING_DIMINISHED: "vii",
        }[self.role]
        quality = "" if place.symbol.family is Family.MINOR else place.symbol.quality_text
        return f"{as_five}{quality}{place.symbol.extension_text}/{goal}"

    def sentence(self) -> str:
        """The role in words, with the names of its place."""
        return SENTENCES[self.role].format(**words_of(self.place, self)) + self._pivot()

    def _pivot(self) -> str:
        """The chord in the key that it leaves or enters; empty where it is in one alone."""
        other = pivot_key(self.place) if self.role is Role.DIATONIC else None
        if other is None:
            return ""
        return f"; the pivot: also {numeral(self.place.symbol, other)} of {other}"


def words_of(place: ChordPlace, function: Function | None = None) -> dict[str, object]:
    """What a sentence about a place may name."""
    key, symbol, after = place.key, place.symbol, place.after
    parallel = Key(key.tonic, not key.minor)
    target = function.target if function and function.target else after.root
    foreign = SOUNDS_AS.get(symbol.family, {}).get(place.bass_above, ("", ""))[0]
    bass = symbol.bass or symbol.root
    return {
        "sounding": f"{bass}{foreign}",
        "before": place.before,
        "after": after,
        "second": symbol.root + -_STEP,
        "target": target,
        "fifth": after.root + FIFTH,
        "key": key,
        "tonic": key.tonic,
        "parallel": parallel,
        "root": symbol.root,
        "bass": bass,
        "numeral": numeral(symbol, place.key),
    }


@lru_cache(maxsize=1024)
def _sus_on_bass(symbol: ChordSymbol) -> ChordSymbol:
    """F/G and Dm7/G as the G9sus4 that they sound as; any other chord as it is."""
    bass = symbol.bass
    if bass is None or symbol.silent:
        return symbol
    above = (bass.pitch_class - symbol.root.pitch_class) % 12
    suffix = SOUNDS_AS.get(symbol.family, {}).get(above, ("", ""))[0]
    return parse_symbol(bass.ascii + suffix) if suffix == "9sus4" else symbol


def sounding_place(place: ChordPlace) -> ChordPlace:
    """The place with a suspended dominant named for its bass, where it acts as one.

    It does on V of the key and where it falls a fifth; elsewhere the bass is one that stays.
    """
    before, after = _sus_on_bass(place.before), _sus_on_bass(place.after)
    suspended = _sus_on_bass(place.symbol)
    acts = falls_a_fifth(suspended, after) or degree_in(suspended, place.key) == 7
    symbol = suspended if acts else place.symbol
    return place._replace(symbol=symbol, before=before, after=after)


def pivot_key(place: ChordPlace) -> Key | None:
    """The key beside the chord's own that it belongs to as well; None where it is no pivot."""
    if place.key_before not in {None, place.key} and _is_in(place.symbol, place.key_before):
        return place.key_before
    leads = is_dominant(place.after) and _is_five(place.after, place.key_after)
    if place.key_after not in {None, place.key} and leads:
        return place.key_after if _is_in(place.symbol, place.key_after) else None
    return None


def _is_in(symbol: ChordSymbol, key: Key | None) -> bool:
    return key is not None and not symbol.silent and _tones(symbol) <= _notes(key)


def _is_five(symbol: ChordSymbol, key: Key | None) -> bool:
    return key is not None and degree_in(symbol, key) == 7


def is_minor_goal(symbol: ChordSymbol) -> bool:
    """True for a minor chord that a dominant can lead to; a diminished one only passes on."""
    return is_minor(symbol) and symbol.family is not Family.DIMINISHED


_STEP = Interval(1, 2)


def _rise(symbol: ChordSymbol, following: ChordSymbol) -> int | None:
    if symbol.silent or following.silent:
        return None
    return (following.root.pitch_class - symbol.root.pitch_class) % 12


def _bass_class(symbol: ChordSymbol) -> int | None:
    """What sounds lowest, as a pitch class."""
    return None if symbol.silent else (symbol.bass or symbol.root).pitch_class


def _is_diminished(place: ChordPlace) -> bool:
    return place.symbol.family is Family.DIMINISHED


def _embellishes(place: ChordPlace) -> bool:
    same_bass = _bass_class(place.after) == _bass_class(place.symbol)
    return _is_diminished(place) and (place.rise == 0 or same_bass)


def _passes(place: ChordPlace) -> bool:
    """A diminished chord between two basses that lie a step apart."""
    bass, low = _bass_class(place.symbol), _bass_class(place.before)
    high = _bass_class(place.after)
    if place.opens or not _is_diminished(place) or bass is None or low is None or high is None:
        return False
    return (bass - low) % 12 == (high - bass) % 12 in {1, 11} or (high - bass) % 12 == 11


def _leads_up(place: ChordPlace) -> bool:
    return _is_diminished(place) and place.rise == 1


def moves_a_voice(place: ChordPlace) -> bool:
    """True where the root stays from the chord before and one inner or low voice moves."""
    symbol, before = place.symbol, place.before
    if place.opens or before.silent or symbol.root != before.root or symbol == before:
        return False
    if is_dominant(symbol):  # I becomes a dominant of IV; after a minor chord all is new
        return False
    both = {Family.MAJOR, Family.AUGMENTED}
    alike = symbol.family is before.family or {symbol.family, before.family} == both
    moved = _voices(symbol) ^ _voices(before)
    return alike and 0 < len(moved) <= 2


def _voices(symbol: ChordSymbol) -> frozenset[int]:
    bass = _bass_class(symbol)
    sounding = {tone.name.pitch_class for tone in chord_tones(symbol)}
    return frozenset(sounding | ({bass} if bass is not None else set()))


def over_pedal(place: ChordPlace) -> bool:
    """True where a bass outside the chord stays from the chord before or into the next."""
    bass = place.symbol.bass
    if bass is None or bass.pitch_class in {
        tone.name.pitch_class for tone in chord_tones(place.symbol)
    }:
        return False
    before = None if place.opens else _bass_class(place.before)
    return bass.pitch_class in {before, _bass_class(place.after)}


def _is_tonic(place: ChordPlace) -> bool:
    return is_tonic(place.symbol, place.key)


def _is_tonic_seventh(place: ChordPlace) -> bool:
    steps_down = substitutes(place)
    return rests_as_seventh(place.symbol, place.after, place.key) and not steps_down


def _is_dominant(place: ChordPlace) -> bool:
    return is_dominant(place.symbol) or place.symbol.alt


def _on_five(place: ChordPlace) -> bool:
    five = degree_in(place.symbol, place.key) == 7
    major = place.symbol.family in {Family.MAJOR, Family.AUGMENTED, Family.SUS4}
    return five and major and (_is_dominant(place) or place.symbol.seventh is None)


def _closes_on_tonic(place: ChordPlace) -> bool:
    """V before its tonic, within the form: the last chord only leads back to the top."""
    return _on_five(place) and _is_cadence_goal(place) and not place.closes


def _is_cadence_goal(place: ChordPlace) -> bool:
    if place.after.silent or place.after.family is Family.DIMINISHED:
        return False
    return degree_in(place.after, place.key) == 0 and is_minor(place.after) == place.key.minor


def _is_deceptive(place: ChordPlace) -> bool:
    """V that goes to vi, or to ♭VI, where the tonic was due."""
    if not _on_five(place) or not _is_dominant(place) or place.after.silent:
        return False
    goal = degree_in(place.after, place.key), is_minor(place.after)
    on_six = goal == (9, True) and not place.key.minor
    return (on_six or goal == (8, False)) and not is_dominant(place.after)


def _secondary(place: ChordPlace) -> bool:
    """A dominant that falls a fifth, or would: the ii on its own root may come first, and one
    of ii, iii or vi may step up instead.
    """
    if not _is_dominant(place):
        return False
    return falls_a_fifth(place.symbol, place.after) or _to_its_two(place) or deceives(place)


def _to_its_two(place: ChordPlace) -> bool:
    """True for a dominant seventh that becomes the minor chord on its root."""
    return is_dominant(place.symbol) and is_minor_goal(place.after) and place.rise == 0


def deceives(place: ChordPlace) -> bool:
    """True for a dominant of ii, iii or vi that steps up instead of falling."""
    leads_to_minor = degree_in(place.symbol, place.key) in {4, 9, 11} and not place.key.minor
    return _is_dominant(place) and leads_to_minor and place.rise in {1, 2}


def substitutes(place: ChordPlace) -> bool:
    """True for a dominant seventh that falls a half step."""
    return _is_dominant(place) and place.rise == 11


def rises_to_tonic(place: ChordPlace) -> bool:
    """True for a dominant on ♭VII that goes up a step to the tonic."""
    ten = degree_in(place.symbol, place.key) == 10
    return _is_dominant(place) and ten and is_tonic(place.after, place.key)


def _inside(place: ChordPlace) -> bool:
    return _tones(place.symbol) <= _notes(place.key)


def _borrowed(place: ChordPlace) -> bool:
    return _tones(place.symbol) <= _notes(Key(place.key.tonic, not place.key.minor))


def _tones(symbol: ChordSymbol) -> set[int]:
    return {tone.name.pitch_class for tone in chord_tones(symbol) if tone.degree.number <= 7}


def _notes(key: Key) -> set[int]:
    raised = {(key.tonic.pitch_class + 11) % 12} if key.mode == "minor" else set()
    return {7 * fifths % 12 for fifths in range(key.fifths - 1, key.fifths + 6)} | raised


def _secondary_two(place: ChordPlace) -> bool:
    """A minor chord before the dominant a fourth above it, where that is not V of the key."""
    before_dominant = is_dominant(place.after) and place.rise == 5
    at_home = degree_in(place.after, place.key) in {7, 10}  # V, and ♭VII after a borrowed iv
    return is_minor(place.symbol) and before_dominant and not (at_home or _inside(place))


def _led_to(place: ChordPlace) -> bool:
    dominant = is_dominant(place.before) and falls_a_fifth(place.before, place.symbol)
    return dominant and not (place.opens or _is_dominant(place))


_ROLES: tuple[tuple[Callable[[ChordPlace], bool], Role], ...] = (
    (lambda place: place.symbol.silent, Role.SILENCE),
    (lambda place: place.blues and _is_dominant(place), Role.BLUES),
    (_embellishes, Role.COMMON_TONE_DIMINISHED),
    (_passes, Role.PASSING_DIMINISHED),
    (_leads_up, Role.LEADING_DIMINISHED),
    (over_pedal, Role.PEDAL),
    (moves_a_voice, Role.LINE_CLICHE),
    (_is_tonic, Role.TONIC),
    (_is_tonic_seventh, Role.TONIC_SEVENTH),
    (_closes_on_tonic, Role.CADENCE),
    (_is_deceptive, Role.DECEPTIVE),
    (_on_five, Role.DOMINANT),
    (_secondary, Role.SECONDARY_DOMINANT),
    (substitutes, Role.TRITONE_SUBSTITUTE),
    (rises_to_tonic, Role.BACKDOOR),
    (_secondary_two, Role.SECONDARY_TWO),
    (_inside, Role.DIATONIC),
    (_led_to, Role.TONICISED),
    (_borrowed, Role.BORROWED),
)


def function_of(place: ChordPlace) -> Function:
    """The role of a chord where it stands: the first whose test holds."""
    as_it_sounds = sounding_place(place)
    role = next((role for test, role in _ROLES if test(as_it_sounds)), Role.CHROMATIC)
    return Function(role, place)
