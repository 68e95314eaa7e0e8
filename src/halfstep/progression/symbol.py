"""What does one chord symbol say? Syntax only: the tones are `halfstep.harmony.tones`.

A symbol is a root, a family, perhaps a seventh with what is stacked on it, altered,
added and omitted degrees, and a bass. Everything a player writes for the same chord
reads to the same fields; the writer's own text stays in ``typed``.

Conventions
-----------
- Pasted text is normalised (NFKC) first, so full-width letters read.
- An accidental right after the root's letter belongs to the root: ``Cb9`` is a ninth
  chord on C♭; a flat ninth on C is ``C7b9``.
- A slash before a letter names a bass, before a digit or an accidental a degree.
- Readings that are not certain carry a notice in words: which was taken and how to
  write it plainly. A `Reading` settles them once for a book of charts.
- Unless a `Reading` says otherwise, ``C△`` is Cmaj7, ``C7+`` is C7♯5, ``A-9`` is Am9,
  ``A+9`` is A9♯5, ``C2`` and ``C/9`` are Cadd9, ``C0`` is Cm7♭5, ``C7m`` is Cm7, and H or a small
  letter is no root. Always: ``C11`` leaves its third out.
- A chord that is moved keeps its writer's suffix where that still reads the same:
  ``Ami`` up a tone is ``Bmi``.

Source: common practice, no source; MusicXML 4.0 for the kinds.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import cached_property, lru_cache
from typing import Literal, NamedTuple

from halfstep.errors import ReadError
from halfstep.pitch import Degree, Interval, Name, ascii_signs


class Family(StrEnum):
    """The frame of a chord, without its seventh."""

    MAJOR = "major"
    MINOR = "minor"
    DIMINISHED = "diminished"
    HALF_DIMINISHED = "half-diminished"
    AUGMENTED = "augmented"
    SUS4 = "suspended fourth"
    SUS2 = "suspended second"
    POWER = "power"
    SILENT = "no chord"


# a tuple, since its hash is taken for every symbol read
class Reading(NamedTuple):
    """How a book of charts writes what can be read in two ways; None is not settled.

    What is not settled is read in the first of the ways named here, with a notice.

    Attributes
    ----------
    triangle : {"seventh", "triad"}
        ``C△`` is Cmaj7 or C.
    plus_seventh : {"augmented", "major"}
        ``C7+`` is C7♯5 or Cmaj7.
    plus_ninth : {"augmented", "sharp"}
        ``A+9`` is A9♯5 or A7♯9.
    minus_ninth : {"minor", "flat"}
        ``A-9`` is Am9 or A(♭9).
    two : {"add9", "sus2"}
        ``C2`` is Cadd9 or Csus2.
    over : {"added", "stacked"}
        ``C/9`` is Cadd9 or C9; over a seventh or a sixth it is stacked.
    zero : {"half", "whole"}
        ``C0`` is Cm7♭5 or Cdim7.
    seventh_m : {"minor", "major"}
        ``C7m`` is Cm7 or Cmaj7.
    h : {"plain", "german"}
        H is B natural, and B is B natural too or B flat. Not settled, H is no root.
    small_is_minor : bool
        ``e7`` is Em7; when off, a small letter is no root.
    """

    triangle: Literal["seventh", "triad"] | None = None
    plus_seventh: Literal["augmented", "major"] | None = None
    plus_ninth: Literal["augmented", "sharp"] | None = None
    minus_ninth: Literal["minor", "flat"] | None = None
    two: Literal["add9", "sus2"] | None = None
    over: Literal["added", "stacked"] | None = None
    zero: Literal["half", "whole"] | None = None
    seventh_m: Literal["minor", "major"] | None = None
    h: Literal["plain", "german"] | None = None
    small_is_minor: bool = False


DEFAULT = Reading()


class Shape(NamedTuple):
    """What a chord is, whatever its root and bass; the fields are those of `ChordSymbol`."""

    family: Family
    seventh: Degree | None
    sixth: bool
    extension: int
    altered: tuple[Degree, ...]
    added: tuple[Degree, ...]
    omitted: tuple[int, ...]
    alt: bool


# without slots: a symbol read from text takes its fields from its suffix in one step
@dataclass(frozen=True)
class ChordSymbol:
    """One chord symbol, read.

    Attributes
    ----------
    typed : str
        As the writer wrote it; not part of equality.
    root : Name
        C for ``N.C.``, which has the family `Family.SILENT`.
    family : Family
    seventh : Degree or None
        ♭7, 7 or 𝄫7.
    sixth : bool
    extension : int
        0, or the number stacked to: 7, 9, 11, 13.
    altered : tuple of Degree
        Degrees that are raised or lowered, in order: ♭5 ♯5 ♭9 ♯9 ♯11 ♭13.
    added : tuple of Degree
    omitted : tuple of int
    alt : bool
        The altered dominant: ♭7 with ♭9 ♯9 ♭5 ♯5 in play.
    bass : Name or None
    notices : tuple of str
        What was not certain about the reading; not part of equality.
    """

    typed: str = field(compare=False)
    root: Name
    family: Family = Family.MAJOR
    seventh: Degree | None = None
    sixth: bool = False
    extension: int = 0
    altered: tuple[Degree, ...] = ()
    added: tuple[Degree, ...] = ()
    omitted: tuple[int, ...] = ()
    alt: bool = False
    bass: Name | None = None
    notices: tuple[str, ...] = field(default=(), compare=False)

    @property
    def silent(self) -> bool:
        """True for ``N.C.``"""
        return self.family is Family.SILENT

    @cached_property
    def shape(self) -> Shape:
        """All but the root and the bass."""
        return Shape(
            self.family,
            self.seventh,
            self.sixth,
            self.extension,
            self.altered,
            self.added,
            self.omitted,
            self.alt,
        )

    @property
    def quality_text(self) -> str:
        """What is printed on the line after the root: m, °, ø, +."""
        return _PRINTED[self.family]

    @property
    def extension_text(self) -> str:
        """What is printed raised: maj7, 9, 7♭9, 6/9, sus4."""
        parts = ""
        if self.sixth:
            parts += "6/9" if Degree(9) in self.added else "6"
        if self.alt:
            parts += "7alt"
        elif self.extension:
            major = self.seventh == Degree(7)
            parts += f"maj{self.extension}" if major else str(self.extension)
        parts += _SUSPENDED.get(self.family, "")
        parts += "".join(map(str, self.altered))
        nine_is_said = self.sixth
        for degree in self.added:
            if not (nine_is_said and degree == Degree(9)):
                parts += f"add{degree}"
        return parts + "".join(f"no{number}" for number in self.omitted)

    @property
    def _bracketed(self) -> bool:
        """True where the extension would run into what stands before it."""
        major_over_minor = bool(self.quality_text) and self.seventh == Degree(7)
        if self.family in {Family.AUGMENTED, Family.POWER} and (self.sixth or self.extension):
            return True
        return major_over_minor or bool(self.altered and not (self.extension or self.sixth))

    @property
    def ascii(self) -> str:
        """House style in ASCII, which reads back to the same symbol."""
        if self.silent:
            return "N.C."
        plain = {"°": "dim", "ø": "m", "+": "+"}.get(self.quality_text, self.quality_text)
        extension = ascii_signs(self.extension_text)
        if self.family is Family.HALF_DIMINISHED:
            extension += "b5"
        bass = f"/{self.bass.ascii}" if self.bass else ""
        if self._bracketed:
            extension = f"({extension})"
        return f"{self.root.ascii}{plain}{extension}{bass}"

    def moved(self, interval: Interval) -> ChordSymbol:
        """The same chord an interval higher; root and bass move together."""
        if self.silent:
            return self
        bass = self.bass + interval if self.bass else None
        moved = replace(self, root=self.root + interval, bass=bass)
        return replace(moved, typed=_retyped(self.typed, moved))

    def __str__(self) -> str:
        if self.silent:
            return "N.C."
        extension = self.extension_text
        if self._bracketed:
            extension = f"({extension})"
        bass = f"/{self.bass}" if self.bass else ""
        return f"{self.root}{self.quality_text}{extension}{bass}"


_PRINTED = {
    Family.MAJOR: "",
    Family.MINOR: "m",
    Family.DIMINISHED: "°",
    Family.HALF_DIMINISHED: "ø",
    Family.AUGMENTED: "+",
    Family.SUS4: "",
    Family.SUS2: "",
    Family.POWER: "5",
    Family.SILENT: "",
}
_STACKED_WORDS = {7: "seventh", 9: "ninth", 11: "eleventh", 13: "thirteenth"}
_SUSPENDED = {Family.SUS4: "sus4", Family.SUS2: "sus2"}

_LETTERS = "CDEFGAB"
_SIGNS = {"": 0, "b": -1, "#": 1, "bb": -2, "##": 2}
_ROOTS = {
    letter + sign: Name(place, alteration)
    for place, letter in enumerate(_LETTERS)
    for sign, alteration in _SIGNS.items()
}
"""The thirty-five names a root or a bass may have."""

_WITH_H = _ROOTS | {"H": Name(6), "H#": Name(6, 1), "Hb": Name(6, -1)}
_NAMES = {None: _ROOTS, "plain": _WITH_H, "german": _WITH_H | {"B": Name(6, -1)}}
_TYPED = re.compile(
    r"""
    \s*[A-Ha-h](?:bb|\#\#|♭♭|♯♯|[b\#♭♯𝄫𝄪x♮])?
    (?P<suffix>.*?)
    (?:/\s*[A-Ha-h](?:bb|\#\#|♭♭|♯♯|[b\#♭♯𝄫𝄪x♮])?\s*)?
    """,
    re.VERBOSE,
)
_SILENCE = re.compile(r"n\.?\s?c\.?", re.IGNORECASE)

_TOKEN = re.compile(
    r"""
      (?P<half>      ø7? | (?i:m(?:in?)?)7\(?b5\)? | -7\(?b5\)? | 0 7? )  # half-diminished
    | (?P<alt>       7? (?i:alt(?:ered)?) \.? 7? )
    | (?P<sus>       (?i:sus) \s? (?:(?P<sus_number>24|42|2|4)(?!\d))? )
    | (?P<six_nine>  (?i:add)? 6 [\s/,(]* 9 | 6 \(? (?i:add) \s? 9 | 9 \s? / \s? 6 )
    | (?P<add>       (?i:add) [\s.]* (?P<add_sign>[b\#]?)(?P<add_number>2|3|4|6|7|9|11|13) )
    | (?P<omit>      (?i:no|omit) (?:\s?(?P<omit_number>11|13|1|3|5|7|9)(?i:rd|th|st)?)? )
    | (?P<dim>       (?i:dim) \.? (?P<dim_five>5?) | ° | o )
    | (?P<aug>       (?i:aug) \.? 5? )
    | (?P<minus_nine> \A-9 )
    | (?P<minor>     (?i:min(?:or)?) | (?i:mi)(?!n) | m(?!(?i:aj)|[Aa](?!(?i:dd|ug)))
                     | (?<![\d(])-(?!5|(?<=m-)9) )                           # a hyphen is minor
    | (?P<major>     (?:(?i:maj(?:or)?)|[Mm][Aa](?!(?i:dd|ug))|M|△) [.\s]?
                     (?P<major_number>13|11|9|7|6/9|69|6)? )
    | (?P<dominant>  (?i:dom(?:inant)?) )
    | (?P<plus_nine> \A\+9 )
    | (?P<after>     (?<=[(,\s])(?P<after_number>13|11|9|5)(?P<after_mark>[b\#+-])(?=[),]) )
    | (?P<plus_seventh> \+7 )
    | (?P<sign>      (?P<sign_mark>[b\#+♮-])(?P<sign_number>13|11|10|9|7|6|5|4|3|2) )
    | (?P<plus>      \+ )
    | (?P<over>      / (?P<over_number>13|11|9) )
    | (?P<number>    13 | 11 | 9 | 7 | 6 | 5 | 4 | 2 )(?P<seventh_major>M(?![AaIi]))?
    """,
    re.VERBOSE,
)
_ASK_H = (
    "H is B natural in German charts, and then B may be B flat: "
    "say reading: B = Bb, or reading: H = B"
)
_EASILY_MEANT = {"Cb", "Fb", "B#", "E#"}
_EASILY_ALTERED = ("5", "9", "11", "13")
_FILLER = re.compile(
    r"[(),\s\[\]]+|(?<=.)\.|/(?=[b#+♮-]\d|[2-7]|(?i:dim|aug|sus|add|no|omit|alt|m))"
)


# what copied charts have for the signs of a symbol
_LOOK_ALIKE = str.maketrans(
    dict.fromkeys("\u00ad\u200b\u200c\u200d\u2060\ufe0e\ufe0f\ufeff", "")
    | dict.fromkeys("\u2010\u2011\u2012\u2013\u2014\u2015\u2212", "-")
    | dict.fromkeys("∘◦○", "°")
    | dict.fromkeys("Ø∅⌀φϕ", "ø")
    | dict.fromkeys("Δ∆▲▵^", "△")
    | dict.fromkeys("\u2044\u2215", "/")
    | dict(zip("\u0391\u0392\u0395\u0397\u0410\u0412\u0415\u041d\u0421", "ABEHABEHC", strict=True))
)


def normalised(text: str) -> str:
    """Pasted text as the reader wants it: NFKC, ASCII accidentals, one kind of sign."""
    plain = text.strip().replace("º", "°").replace("˚", "°")  # NFKC would take them apart
    plain = (
        plain.replace("o\u0338", "ø")
        .replace("O\u0338", "ø")
        .replace("♮5", "")
        .replace("♮7", "maj7")
    )
    return ascii_signs(unicodedata.normalize("NFKC", plain).translate(_LOOK_ALIKE))


@lru_cache(maxsize=4096)
def parse_symbol(text: str, reading: Reading = DEFAULT) -> ChordSymbol:
    """Read one chord symbol.

    Parameters
    ----------
    text : str
        Such as ``Dm7``, ``G7b9``, ``Ebmaj7/G``, ``N.C.``
    reading : Reading, optional
        What the writer means where two things can be meant.

    Raises
    ------
    ReadError
        Names the place where the symbol stops making sense, counted in ``text``.

    Examples
    --------
    >>> str(parse_symbol("Ebmi7b5/Gb")), str(parse_symbol("h7", Reading(h="german",
    ...     small_is_minor=True)))
    ('E♭ø7/G♭', 'Bm7')
    """
    if "^" in text:
        text = text.replace("^", "△")  # typed for the triangle, and never written
    plain = text.strip() if text.isascii() and "x" not in text else normalised(text)
    names = _NAMES[reading.h]
    small = reading.small_is_minor and plain[:1].islower()
    upper = plain[:1].upper() + plain[1:] if small else plain
    written = upper[:3]  # the longest name: Cbb9 is a ninth on C𝄫
    while (root := names.get(written)) is None and written:
        written = written[:-1]
    if root is None:
        if _SILENCE.fullmatch(plain):
            return ChordSymbol(text, _ROOTS["C"], Family.SILENT)
        raise _no_root(text, reading)
    # the last slash before a letter is the bass; before a digit it is a degree
    suffix, bass = upper[len(written) :], None
    if "/" in suffix:
        suffix, bass = _without_bass(suffix, names, small=reading.small_is_minor)
    try:
        fields, notices = _read_suffix(suffix, reading, small)
    except _NoSense as stop:
        raise _stopped(text, suffix, len(written), stop.place, reading) from None
    if notices or reading.h or written in _EASILY_MEANT:
        notices = _said(text, written, suffix, root, notices, german=reading.h == "german")
    return _attached(fields, text, root, bass, notices)


def _attached(
    fields: dict[str, object], typed: str, root: Name, bass: Name | None, notices: tuple[str, ...]
) -> ChordSymbol:
    """A symbol with the fields of its suffix; several times as fast as its constructor."""
    symbol = object.__new__(ChordSymbol)
    held = symbol.__dict__
    held.update(fields)
    held["typed"], held["root"] = typed, root
    if bass or notices:
        held["bass"], held["notices"] = bass, notices
    return symbol


def _said(
    text: str, written: str, suffix: str, root: Name, notices: tuple[str, ...], *, german: bool
) -> tuple[str, ...]:
    """The notices of a suffix on its root, and those of the root."""
    said = [f"{text}: {notice.format(root=root.ascii)}" for notice in notices]
    if written in _EASILY_MEANT and suffix.startswith(_EASILY_ALTERED):
        said.append(
            f"{text}: read as a chord on {written}; an altered degree on {written[0]} is "
            f"written {written[0]}7{written[1]}{suffix}"
        )
    if german and written == "Bb":
        said.append(f"{text}: Bb is read as B flat, as B is; B natural is written H")
    return tuple(said)


def _stopped(text: str, suffix: str, offset: int, place: int, reading: Reading) -> ReadError:
    """Where a suffix stops making sense, counted in the whole symbol."""
    rest = suffix[place:]
    hint = "after the root may come m, maj7, 7, dim, sus4, b9, #11, /bass and the like"
    if rest.startswith("/H") and not reading.h:
        hint = _ASK_H
    elif rest[:1] == "/" and rest[1:2] in set("abcdefgh") and not reading.small_is_minor:
        hint = "a bass is a capital letter; say reading: e = Em if small letters are minor"
    return ReadError(
        f"chord {text!r} stops making sense at {rest!r}; {hint}", column=offset + place + 1
    )


def _no_root(text: str, reading: Reading) -> ReadError:
    """Why there is no root, and how to ask for it."""
    first = text[:1]
    hint = "it must begin with a root A to G, such as Am7"
    if first in {"H", "h"} and not reading.h:
        hint = _ASK_H
    elif first and first in "abcdefgh" and not reading.small_is_minor:
        hint = "the root is a capital letter; say reading: e = Em if small letters are minor"
    return ReadError(f"{text!r} is no chord symbol; {hint}", column=1)


def _without_bass(suffix: str, names: dict[str, Name], *, small: bool) -> tuple[str, Name | None]:
    """A suffix and the bass that stood behind its last slash."""
    before, _, last = suffix.rpartition("/")
    last = last.strip()
    bass = names.get(last[:1].upper() + last[1:] if small else last)
    return (before, bass) if bass else (suffix, None)


def in_words(symbol: ChordSymbol) -> str:
    """How a symbol is read, in words; different chords have different words.

    >>> in_words(parse_symbol("Cm7b5/Eb")), in_words(parse_symbol("G7b9"))
    ('C half-diminished seventh over E♭', 'G dominant seventh with ♭9')
    """
    if symbol.silent:
        return "no chord"
    quality, *further = _quality_words(symbol)
    further += [*map(str, symbol.altered), *(f"added {degree}" for degree in symbol.added)]
    words = f"{symbol.root} {quality}"
    if further:
        words += f" with {' and '.join(further)}"
    if symbol.omitted:
        words += f" without {' and '.join(map(str, symbol.omitted))}"
    return f"{words} over {symbol.bass}" if symbol.bass else words


def _quality_words(symbol: ChordSymbol) -> list[str]:
    """The kind of chord, and what it has besides."""
    family = str(symbol.family)
    if symbol.alt:
        return ["altered dominant"]
    if symbol.sixth or not symbol.extension:
        return [f"{family} sixth" if symbol.sixth else family]
    major = symbol.seventh == Degree(7)
    stack = _STACKED_WORDS[symbol.extension]
    if symbol.family in _SUSPENDED or symbol.family is Family.POWER:
        return [f"{'major ' if major else ''}{stack}", family]
    if symbol.family is Family.MAJOR:
        return [f"{'major' if major else 'dominant'} {stack}"]
    return [family, f"major {stack}"] if major else [f"{family} {stack}"]


class _NoSense(Exception):
    """A suffix cannot be read from a place on, counted from 0."""

    def __init__(self, place: int) -> None:
        super().__init__(place)
        self.place = place


@lru_cache(maxsize=1024)
def _read_suffix(
    suffix: str, reading: Reading, small: bool
) -> tuple[dict[str, object], tuple[str, ...]]:
    """The fields that a suffix sets, with notices that want ``{root}`` filled in."""
    reader = _read_tokens(suffix, reading, small)
    shape = reader.shape()
    fields = shape._asdict() | {"shape": shape, "bass": None, "notices": ()}
    notices = [*reader.notices]
    for name, said in reader.doubts.items():
        settled = reading._replace(**{name: _OTHERWISE[name]})  # type: ignore[arg-type]
        other = _read_tokens(suffix, settled, small).shape()
        if other != shape:
            notices.append(f"{said}; write {_plainly(shape)}, or {_plainly(other)}")
    if _lacks_third(shape):
        with_third = shape._replace(added=(Degree(3), *shape.added))
        notices.append(f"the third is left out under the 11; write {_plainly(with_third)} for it")
    return fields, tuple(notices)


_OTHERWISE = {
    "triangle": "triad", "plus_seventh": "major", "plus_ninth": "sharp", "minus_ninth": "flat",
    "two": "sus2", "over": "stacked", "zero": "whole", "seventh_m": "major",
}  # fmt: skip
"""The reading of a doubtful sign that is not the default."""


def _plainly(shape: Shape) -> str:
    """A shape in ASCII, with a place for its root."""
    return "{root}" + ChordSymbol("", _ROOTS["C"], *shape).ascii[1:]


def _lacks_third(shape: Shape) -> bool:
    """True where the natural eleventh takes the place of a major third."""
    third_is_said = Degree(3) in shape.added or 3 in shape.omitted
    return shape.extension == 11 and shape.family is Family.MAJOR and not third_is_said


def _read_tokens(suffix: str, reading: Reading, small: bool) -> _Suffix:
    reader = _Suffix(reading, Family.MINOR if small else Family.MAJOR)
    place = 0
    while place < len(suffix):
        if filler := _FILLER.match(suffix, place):
            place = filler.end()
            continue
        token = _TOKEN.match(suffix, place)
        if not token:
            raise _NoSense(place)
        reader.take(token)
        place = token.end()
    return reader


def _retyped(typed: str, moved: ChordSymbol) -> str:
    """The writer's suffix on the new root and bass, where it still reads the same."""
    found = _TYPED.fullmatch(typed)
    if not found:
        return moved.ascii
    bass = f"/{moved.bass.ascii}" if moved.bass else ""
    text = moved.root.ascii + found["suffix"] + bass
    try:
        return text if parse_symbol(text) == moved else moved.ascii
    except ReadError:
        return moved.ascii


class _Suffix:
    """Collects the tokens between a root and a bass."""

    def __init__(self, reading: Reading, family: Family) -> None:
        self.reading = reading
        self.family = family
        self.seventh: Degree | None = None
        self.sixth = False
        self.extension = 0
        self.altered: list[Degree] = []
        self.added: list[Degree] = []
        self.omitted: list[int] = []
        self.alt = False
        self.major = False
        self.notices: list[str] = []
        self.doubts: dict[str, str] = {}

    def take(self, token: re.Match[str]) -> None:
        """Add one token; each kind has its method."""
        kind = next(k for k in _KINDS if token[k])
        getattr(self, f"_{kind}")(token)

    def _doubt(self, field: str, said: str) -> bool:
        """Is a sign read in its other way? What is not settled is noted."""
        settled = getattr(self.reading, field)
        if settled is None:
            self.doubts[field] = said
        return bool(settled == _OTHERWISE[field])

    def _half(self, token: re.Match[str]) -> None:
        zero = token[0].startswith("0")
        whole = zero and self._doubt("zero", "the digit 0 is read as ø, half-diminished")
        self.family = Family.DIMINISHED if whole else Family.HALF_DIMINISHED
        self._stack(7)

    def _alt(self, token: re.Match[str]) -> None:
        if self.major or self.seventh == Degree(7):
            raise _NoSense(token.start())
        self.alt = True
        self._stack(7)

    def _sus(self, token: re.Match[str]) -> None:
        number = token["sus_number"] or ""
        both = len(number) == 2 or (self.family is Family.SUS2 and number != "2")
        self.family = Family.SUS2 if number == "2" else Family.SUS4
        if both:
            self.added.append(Degree(9))

    def _add(self, token: re.Match[str]) -> None:
        number = int(token["add_number"])
        number = {2: 9, 4: 11, 6: 13}.get(number, number)
        self.added.append(Degree(number, _MARKS[token["add_sign"]]))

    def _omit(self, token: re.Match[str]) -> None:
        self.omitted.append(int(token["omit_number"] or 3))

    def _dim(self, token: re.Match[str]) -> None:
        if token["dim_five"] and (self.extension or self.sixth):
            self._alter(5, -1)
        else:
            self.family = Family.DIMINISHED

    def _aug(self, _token: re.Match[str]) -> None:
        self._raise_fifth()

    def _raise_fifth(self) -> None:
        """An augmented triad, or a raised fifth on what is no major chord."""
        if self.family is Family.MAJOR:
            self.family = Family.AUGMENTED
        else:
            self._alter(5, 1)

    def _major(self, token: re.Match[str]) -> None:
        number = token["major_number"]
        if number in {"6", "69", "6/9"}:
            self._six(nine=number != "6")
        elif number:
            self._stack(int(number), seventh=Degree(7))
        elif token[0][0] == "△":
            if not self._doubt("triangle", "△ is read as maj7"):
                self._stack(7, seventh=Degree(7))
        elif self.extension:
            self.seventh = Degree(7)
        else:
            self.major = True

    def _dominant(self, token: re.Match[str]) -> None:
        """A word for the seventh that follows."""
        if self.family is not Family.MAJOR or self.major or self.extension:
            raise _NoSense(token.start())

    def _minor(self, token: re.Match[str]) -> None:
        if self.extension and token[0] == "m" and self.seventh == Degree(7, -1):
            if self._doubt("seventh_m", "m after the number is read as minor"):
                self.seventh = Degree(7)
                return
        self.family = Family.MINOR

    def _minus_nine(self, _token: re.Match[str]) -> None:
        if self._doubt("minus_ninth", "the minus is read as minor"):
            self._alter(9, -1)
        else:
            self.family = Family.MINOR
            self._stack(9)

    def _plus_nine(self, _token: re.Match[str]) -> None:
        if self._doubt("plus_ninth", "the plus is read as augmented"):
            self._stack(7)
            self._alter(9, 1)
        else:
            self.family = Family.AUGMENTED
            self._stack(9)

    def _plus_seventh(self, _token: re.Match[str]) -> None:
        if self.family is Family.MINOR:
            self._stack(7, seventh=Degree(7))  # m+7: the plus belongs to the seventh
        else:
            self.family = Family.AUGMENTED
            self._stack(7)

    def _after(self, token: re.Match[str]) -> None:
        """In brackets the sign may follow its degree."""
        self._alter(int(token["after_number"]), _MARKS[token["after_mark"]])

    def _sign(self, token: re.Match[str]) -> None:
        number, mark = int(token["sign_number"]), token["sign_mark"]
        if token.start() == 0 and mark == "+" and number > 5:
            self.notices.append(f"the plus is read as ♯{number}")
        if number == 7:
            self._stack(7, seventh=Degree(7, min(0, _MARKS[mark])))
        elif mark != "♮":
            self._alter(number, _MARKS[mark])
        elif number != 5:
            self.added.append(Degree(number if number > 6 else number + 7))

    def _plus(self, _token: re.Match[str]) -> None:
        seventh = self.extension and self.seventh == Degree(7, -1)
        if seventh and self._doubt("plus_seventh", "+ after the number is read as ♯5"):
            self.seventh = Degree(7)
        else:
            self._raise_fifth()

    def _six_nine(self, _token: re.Match[str]) -> None:
        self._six(nine=True)

    def _number(self, token: re.Match[str]) -> None:
        number = int(token["number"])
        if number == 5 and (token.start() or token["seventh_major"]):
            raise _NoSense(token.start())
        if token["seventh_major"] and number > 6:
            self._stack(number, seventh=Degree(7))
        elif number == 6:
            self._six(nine=False)
        elif number == 5:
            self.family = Family.POWER
        elif number == 4:
            self.family = Family.SUS4
        elif number == 2:
            self._two()
        else:
            self._stack(number)

    def _over(self, token: re.Match[str]) -> None:
        """A number over a slash is stacked on a seventh or a sixth, and added to a triad."""
        number = int(token["over_number"])
        if self.extension or self.sixth or self._doubt("over", f"/{number} is read as added"):
            self._stack(number)
        else:
            self.added.append(Degree(number))

    def _two(self) -> None:
        suspended = self._doubt("two", "2 is read as an added ninth")
        if suspended and self.family is Family.MAJOR:
            self.family = Family.SUS2
        else:
            self.added.append(Degree(9))

    def _six(self, *, nine: bool) -> None:
        self.sixth = True
        if nine:
            self.added.append(Degree(9))

    def _stack(self, number: int, *, seventh: Degree | None = None) -> None:
        self.extension = max(self.extension, number)
        if seventh:
            self.seventh = seventh
        elif self.seventh is None:
            self.seventh = Degree(7) if self.major else Degree(7, -1)

    def _alter(self, number: int, alteration: int) -> None:
        if number == 10:  # a minor tenth sounds as the raised ninth
            number, alteration = 9, 1
        number = {2: 9, 4: 11, 6: 13}.get(number, number)
        self.altered.append(Degree(number, alteration))

    def shape(self) -> Shape:
        """The finished chord, with one form for each."""
        for settle in (
            self._settle_added,
            self._settle_sixth,
            self._settle_third,
            self._settle_fifth,
            self._settle_suspension,
            self._settle_alt,
            self._settle_stack,
        ):
            settle()
        return Shape(
            self.family,
            self.seventh,
            self.sixth,
            self.extension,
            tuple(sorted(set(self.altered))),
            tuple(sorted(set(self.added))),
            tuple(sorted(set(self.omitted))),
            self.alt,
        )

    def _settle_sixth(self) -> None:
        """A sixth over a seventh is a thirteenth: A6/7/9 sounds as A13."""
        if not (self.sixth and self.extension):
            return
        self.sixth = False
        if self.seventh == Degree(7, -1) and self.family is not Family.DIMINISHED:
            self.extension = 13
        else:
            self.added.append(Degree(13))

    def _settle_added(self) -> None:
        """Altered tensions are altered, however they were added; an added seventh is one."""
        tensions = [d for d in self.added if d.alteration and d.number >= 9]
        self.altered += tensions
        self.added = [d for d in self.added if d not in tensions]
        sevenths = [d for d in self.added if d.number == 7 and d.alteration in {0, -1}]
        if sevenths and not self.seventh:
            self.added.remove(sevenths[0])
            self._stack(7, seventh=sevenths[0])
            said = "major" if sevenths[0] == Degree(7) else "minor"
            self.notices.append(f"the added seventh is read as a {said} seventh")
        if self.sixth:
            self.added = [d for d in self.added if d != Degree(13)]

    def _settle_third(self) -> None:
        """A flat third is minor; a third on a chord without one is added."""
        flat = Degree(3, -1)
        if flat in self.altered:
            self.altered = [d for d in self.altered if d != flat]
            if self.family is Family.MAJOR:
                self.family = Family.MINOR
            elif self.family in _THIRDLESS:
                self.added.append(flat)
        sharp = Degree(3, 1)
        if sharp in self.altered and self.family not in {Family.MAJOR, Family.AUGMENTED}:
            self.altered = [d for d in self.altered if d != sharp]
            self.added.append(sharp)

    def _settle_suspension(self) -> None:
        """A fourth in the place of the third is a suspension."""
        thirds = {Family.MAJOR, Family.MINOR}
        fourth = Degree(11) in self.added or self.extension == 11
        if self.family in thirds and 3 in self.omitted and fourth:
            self.family = Family.SUS4
            self.omitted = [number for number in self.omitted if number != 3]
        if self.family is Family.SUS4:
            self.added = [d for d in self.added if d != Degree(11)]

    def _settle_fifth(self) -> None:
        """One family for each pair of third and fifth."""
        flat, sharp = Degree(5, -1), Degree(5, 1)
        if self.family is Family.DIMINISHED and self.seventh == Degree(7, -1):
            self.seventh = Degree(7, -2)
        if self.family is Family.HALF_DIMINISHED and self.seventh != Degree(7, -1):
            self.family = Family.DIMINISHED
        if self.family is Family.MINOR and flat in self.altered and not self.sixth:
            half = self.seventh == Degree(7, -1)
            self.family = Family.HALF_DIMINISHED if half else Family.DIMINISHED
        if self.family in {Family.DIMINISHED, Family.HALF_DIMINISHED}:
            self.altered = [d for d in self.altered if d != flat]
        if self.family is Family.AUGMENTED and (self.extension or flat in self.altered):
            self.family = Family.MAJOR
            self.altered.append(sharp)
        if self.family is Family.MAJOR and not self.extension:
            if sharp in self.altered and flat not in self.altered:
                self.family = Family.AUGMENTED
        if self.family is Family.AUGMENTED:
            self.altered = [d for d in self.altered if d != sharp]

    def _settle_alt(self) -> None:
        """The four colours together are the altered dominant, and it has them all."""
        plain = self.family is Family.MAJOR and not self.sixth
        dominant = self.seventh in {None, Degree(7, -1)}
        if plain and dominant and self.extension <= 7 and set(self.altered) >= _ALT_COLOURS:
            self.alt = True
        if not self.alt:
            return
        self.family, self.seventh, self.sixth, self.extension = (
            Family.MAJOR,
            Degree(7, -1),
            False,
            7,
        )
        self.altered = [d for d in self.altered if d not in _ALT_COLOURS]
        self.added = [d for d in self.added if d.number < 9]

    def _settle_stack(self) -> None:
        """What is added on top of the stack belongs to it: C9 and C7add9 are one chord."""
        if not self.extension or self.alt:
            return
        altered = {degree.number for degree in self.altered}
        if self.extension in altered or (self.family is Family.SUS4 and self.extension == 11):
            self.extension = {9: 7, 11: 9, 13: 9}[self.extension]  # C9b9 is C7b9
        if self.extension == 9 and 9 in altered:
            self.extension = 7
        for number in (9, 11, 13):
            if Degree(number) in self.added and number not in altered:
                self._stack_on(number, nine_is_said=self.extension == 9 or 9 in altered)

    def _stack_on(self, number: int, *, nine_is_said: bool) -> None:
        eleventh_fits = self.family not in {Family.MAJOR, Family.AUGMENTED}
        fits = {9: True, 11: nine_is_said and eleventh_fits, 13: nine_is_said}[number]
        if number == 13 and self.extension == 11 and eleventh_fits:
            self.extension = 13
            self.added.append(Degree(11))
        if fits and not (number == 13 and self.extension == 11):
            self.extension = max(self.extension, number)
        if self.extension == number or number == 9:
            self.added = [degree for degree in self.added if degree != Degree(number)]


_THIRDLESS = {Family.SUS4, Family.SUS2, Family.POWER}
_ALT_COLOURS = {Degree(5, -1), Degree(5, 1), Degree(9, -1), Degree(9, 1)}
_MARKS = {"": 0, "♮": 0, "b": -1, "-": -1, "#": 1, "+": 1}
_KINDS = (
    "half", "alt", "sus", "six_nine", "add", "omit", "dim", "aug", "minor", "major", "dominant",
    "minus_nine", "plus_nine", "after", "plus_seventh", "sign", "plus", "over", "number",
)  # fmt: skip
