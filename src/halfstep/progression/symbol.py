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
from dataclasses import dataclass, field, replace
from functools import cache, cached_property, lru_cache

from halfstep.errors import ReadError
from halfstep.pitch import Degree, Interval, Name, ascii_signs
from halfstep.progression.quality import DEFAULT, ChordQuality, Family, Reading
from halfstep.progression.suffix import OTHER_READINGS, NoSenseError, SuffixReader


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
    def quality(self) -> ChordQuality:
        """All but the root and the bass."""
        return ChordQuality(
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
        for degree in self.added:
            if not (self.sixth and degree == Degree(9)):
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
        return self if self.silent else _moved(self, interval, self.typed, self.notices)

    @property
    def on_its_root(self) -> ChordSymbol:
        """The same chord without a bass of its own."""
        if self.bass is None:
            return self
        plain = replace(self, bass=None)
        return replace(plain, typed=_retyped(self.typed, plain))

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
_ENDINGS = {f"{letter}is": Name(place, 1) for place, letter in enumerate(_LETTERS)}
_ENDINGS |= {f"{letter}es": Name(place, -1) for place, letter in enumerate(_LETTERS)}
_ENDINGS |= {"Es": Name(2, -1), "As": Name(5, -1), "His": Name(6, 1)}
"""Names as German and Dutch books have them: -is for a sharp, -es or -s for a flat."""


@cache
def _typed_parts() -> re.Pattern[str]:
    return re.compile(
        r"""
        \s* [A-Ha-h] (?: bb | \#\# | ♭♭ | ♯♯ | [b\#♭♯𝄫𝄪x♮] )?            # the root
        (?P<suffix> .*? )
        (?: /\s* [A-Ha-h] (?: bb | \#\# | ♭♭ | ♯♯ | [b\#♭♯𝄫𝄪x♮] )? \s* )?   # the bass
        """,
        re.VERBOSE,
    )


@cache
def _silence() -> re.Pattern[str]:
    return re.compile(r"n\.?\s?c\.?", re.IGNORECASE)


_ASK_H = (
    "H is B natural in German charts, and then B may be B flat: "
    "say reading: B = Bb, or reading: H = B"
)
_EASILY_MEANT = {"Cb", "Fb", "B#", "E#"}
_EASILY_ALTERED = ("5", "9", "11", "13")
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
    import unicodedata

    plain = text.strip().replace("º", "°").replace("˚", "°")  # NFKC would take them apart
    plain = (
        plain.replace("o\u0338", "ø")
        .replace("O\u0338", "ø")
        .replace("♮5", "")
        .replace("♮7", "maj7")
    )
    return ascii_signs(unicodedata.normalize("NFKC", plain).translate(_LOOK_ALIKE))


@lru_cache(maxsize=16)
def _names_of(reading: Reading) -> dict[str, Name]:
    """The names that a root may have."""
    return _NAMES[reading.h] | _ENDINGS if reading.endings else _NAMES[reading.h]


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
    names = _names_of(reading)
    small = reading.small_is_minor and plain[:1].islower()
    upper = plain[:1].upper() + plain[1:] if small else plain
    written = upper[:3]  # the longest name: Cbb9 is a ninth on C𝄫
    if reading.endings and upper[1:4] == "sus":  # Esus is E suspended, not E flat
        written = upper[:1]
    while (root := names.get(written)) is None and written:
        written = written[:-1]
    if root is None:
        if _silence().fullmatch(plain):
            return ChordSymbol(text, _ROOTS["C"], Family.SILENT)
        raise _no_root(text, reading)
    # the last slash before a letter is the bass; before a digit it is a degree
    suffix, bass = upper[len(written) :], None
    if "/" in suffix:
        suffix, bass = _without_bass(suffix, names, small=reading.small_is_minor)
    try:
        fields, notices = _read_suffix(suffix, reading, small)
    except NoSenseError as stop:
        raise _stopped(text, suffix, len(written), stop.place, reading) from None
    if notices or reading.h or written in _EASILY_MEANT:
        notices = _all_notices(text, written, suffix, root, notices, german=reading.h == "german")
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


def _all_notices(
    text: str, written: str, suffix: str, root: Name, notices: tuple[str, ...], *, german: bool
) -> tuple[str, ...]:
    """The notices of a suffix on its root, and those of the root."""
    all_notices = [f"{text}: {notice.format(root=root.ascii)}" for notice in notices]
    if written in _EASILY_MEANT and suffix.startswith(_EASILY_ALTERED):
        all_notices.append(
            f"{text}: read as a chord on {written}; an altered degree on {written[0]} is "
            f"written {written[0]}7{written[1]}{suffix}"
        )
    if german and written == "Bb":
        all_notices.append(f"{text}: Bb is read as B flat, as B is; B natural is written H")
    return tuple(all_notices)


def _stopped(text: str, suffix: str, offset: int, place: int, reading: Reading) -> ReadError:
    """Where a suffix stops making sense, counted in the whole symbol."""
    rest = suffix[place:]
    hint = "after the root may come m, maj7, 7, dim, sus4, b9, #11, /bass and the like"
    if rest.startswith("/H") and not reading.h:
        hint = _ASK_H
    elif _ending(text, offset) and not reading.endings:
        hint = (
            "say reading: Cis = C# if -is is a sharp and -es a flat, as in German and Dutch books"
        )
    elif rest[:1] == "/" and rest[1:2] in set("abcdefgh") and not reading.small_is_minor:
        hint = "a bass is a capital letter; say reading: e = Em if small letters are minor"
    return ReadError(
        f"chord {text!r} stops making sense at {rest!r}; {hint}", column=offset + place + 1
    )


def _ending(text: str, offset: int) -> bool:
    """True where a root or a bass has an ending for its sign: Cis, Es, /Fis."""
    after_root = re.compile(r"is|es|(?<=[EA])s(?!us)")
    return bool(after_root.match(text, offset)) or bool(
        re.search(r"/\s*[A-H](?:is|es|s)\s*\Z", text)
    )


def _no_root(text: str, reading: Reading) -> ReadError:
    """Why there is no root, and how to ask for it."""
    first = text[:1]
    hint = "it must begin with a root A to G, such as Am7"
    if re.fullmatch(r"\d{1,2}/\d{1,2}", text):
        hint = f"a meter stands in braces, {{{text}}}, or in a line before the bars, meter: {text}"
    elif re.match(r"[(\[]\d", text):
        hint = "an ending begins with its number and a point, 1. or 2."
    elif first in {"H", "h"} and not reading.h:
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


@lru_cache(maxsize=1024)
def _read_suffix(
    suffix: str, reading: Reading, small: bool
) -> tuple[dict[str, object], tuple[str, ...]]:
    """The fields that a suffix sets, with notices that want ``{root}`` filled in."""
    family = Family.MINOR if small else Family.MAJOR
    reader = SuffixReader(reading, family)
    quality = reader.read(suffix)
    fields = quality._asdict() | {"quality": quality, "bass": None, "notices": ()}
    notices = [*reader.notices]
    for name, notice in reader.doubts.items():
        settled = reading._replace(**{name: OTHER_READINGS[name]})  # type: ignore[arg-type]
        other = SuffixReader(settled, family).read(suffix)
        if other != quality:
            notices.append(f"{notice}; write {_plainly(quality)}, or {_plainly(other)}")
    if _lacks_third(quality):
        with_third = quality._replace(added=(Degree(3), *quality.added))
        notices.append(f"the third is left out under the 11; write {_plainly(with_third)} for it")
    return fields, tuple(notices)


def _plainly(quality: ChordQuality) -> str:
    """A quality in ASCII, with a place for its root."""
    return "{root}" + ChordSymbol("", _ROOTS["C"], *quality).ascii[1:]


def _lacks_third(quality: ChordQuality) -> bool:
    """True where the natural eleventh takes the place of a major third."""
    third_is_said = Degree(3) in quality.added or 3 in quality.omitted
    return quality.extension == 11 and quality.family is Family.MAJOR and not third_is_said


@lru_cache(maxsize=2048)
def _moved(
    symbol: ChordSymbol, interval: Interval, typed: str, _notices: tuple[str, ...]
) -> ChordSymbol:
    """A symbol moved; what does not count when two are compared is given apart."""
    bass = symbol.bass + interval if symbol.bass else None
    moved = replace(symbol, root=symbol.root + interval, bass=bass)
    return replace(moved, typed=_retyped(typed, moved))


def _retyped(typed: str, moved: ChordSymbol) -> str:
    """The writer's suffix on the new root and bass, where it still reads the same."""
    parts = _typed_parts().fullmatch(typed)
    if not parts:
        return moved.ascii
    bass = f"/{moved.bass.ascii}" if moved.bass else ""
    text = moved.root.ascii + parts["suffix"] + bass
    try:
        return text if parse_symbol(text) == moved else moved.ascii
    except ReadError:
        return moved.ascii
