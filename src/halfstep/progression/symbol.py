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
- Readings that are not certain carry a notice in words.

Source: common practice, no source; MusicXML 4.0 for the kinds.
"""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass, field, replace
from enum import StrEnum
from functools import lru_cache

from halfstep.errors import ReadError
from halfstep.pitch import Degree, Interval, Name, ascii_signs, parse_name


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


@dataclass(frozen=True, slots=True)
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
        return replace(moved, typed=moved.ascii)

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
_SUSPENDED = {Family.SUS4: "sus4", Family.SUS2: "sus2"}

_ROOT = re.compile(r"[A-G](?:bb|##|b|#)?")
_BASS = re.compile(r"/\s*([A-G](?:bb|##|b|#)?)(?!\d)")
_SILENCE = re.compile(r"n\.?\s?c\.?", re.IGNORECASE)

_TOKEN = re.compile(
    r"""
      (?P<half>      [øØ]7? | m(?:in|i)?7\(?b5\)? | -7\(?b5\)? | 0 7? )  # half-diminished
    | (?P<alt>       7?alt\.?7? )
    | (?P<sus>       sus(?P<sus_number>[24]?)(?![1356789]) )
    | (?P<add>       add(?P<add_sign>[b#]?)(?P<add_number>2|3|4|6|7|9|11|13) )
    | (?P<omit>      (?:no|omit)(?P<omit_number>11|13|1|3|5|7|9) | omit )
    | (?P<dim>       dim\.? | ° | o (?!m) )
    | (?P<aug>       aug\.? )
    | (?P<major>     (?:[Mm]aj|MAJ|[Mm]a(?!dd|ug)|M|△|Δ|∆|\^) \.? \s?
                     (?P<major_number>13|11|9|7|6/9|69|6)? )
    | (?P<minor>     (?:[Mm]in|MIN|mi|m|(?<![\d(])[−-]) )                    # a hyphen is minor
    | (?P<plus_seventh> \+7 )
    | (?P<sign>      (?P<sign_mark>[b\#+−-])(?P<sign_number>13|11|10|9|6|5|4|3|2) )
    | (?P<plus>      \+ )
    | (?P<six_nine>  6/?9 | 6add9 )
    | (?P<number>    13 | 11 | 9 | 7 | 6 | 5 | 4 | 2 )(?P<seventh_major>M(?!aj|a))?
    """,
    re.VERBOSE,
)
_EASILY_MEANT = re.compile(r"(?:[CF]b|[BE]#)(?:5|9|11|13)")
_FILLER = re.compile(r"[(),\s\[\]]+|/(?=[b#+−-]?\d|dim|aug|m)")


def normalised(text: str) -> str:
    """Pasted text as the reader wants it: NFKC, ASCII accidentals, one kind of sign."""
    text = text.replace("º", "°").replace("˚", "°").replace("–", "-")
    return ascii_signs(unicodedata.normalize("NFKC", text))


@lru_cache(maxsize=4096)
def parse_symbol(text: str) -> ChordSymbol:
    """Read one chord symbol.

    Parameters
    ----------
    text : str
        Such as ``Dm7``, ``G7b9``, ``Ebmaj7/G``, ``N.C.``

    Raises
    ------
    ReadError
        Names the place where the symbol stops making sense, counted in ``text``.
    """
    plain = normalised(text)
    if _SILENCE.fullmatch(plain):
        return ChordSymbol(text, Name(0), Family.SILENT)
    root = _ROOT.match(plain)
    if not root:
        raise ReadError(
            f"{text!r} is no chord symbol; it must begin with a root A to G, such as Am7",
            column=1,
        )
    end = len(plain)
    bass = None
    # the last slash before a letter is the bass; before a digit it is a degree
    for found in _BASS.finditer(plain):
        if found.end() == end:
            bass, end = parse_name(found[1]), found.start()
    reading = _Reading(text)
    if _EASILY_MEANT.match(plain):
        reading.notices.append(
            f"{text}: read as a chord on {root[0]}; an altered degree on {plain[0]} is "
            f"written {plain[0]}7{plain[1:]}"
        )
    place = root.end()
    while place < end:
        if filler := _FILLER.match(plain, place, end):
            place = filler.end()
            continue
        token = _TOKEN.match(plain, place, end)
        if not token:
            raise ReadError(
                f"chord {text!r} stops making sense at {plain[place:]!r}; "
                "after the root may come m, maj7, 7, dim, sus4, b9, #11, /bass and the like",
                column=place + 1,
            )
        reading.take(token)
        place = token.end()
    return reading.symbol(parse_name(root[0]), bass)


class _Reading:
    """Collects the tokens of one symbol."""

    def __init__(self, typed: str) -> None:
        self.typed = typed
        self.family = Family.MAJOR
        self.seventh: Degree | None = None
        self.sixth = False
        self.extension = 0
        self.altered: list[Degree] = []
        self.added: list[Degree] = []
        self.omitted: list[int] = []
        self.alt = False
        self.major = False
        self.notices: list[str] = []

    def take(self, token: re.Match[str]) -> None:
        """Add one token; each kind has its method."""
        kind = next(k for k in _KINDS if token[k])
        getattr(self, f"_{kind}")(token)

    def _half(self, token: re.Match[str]) -> None:
        self.family = Family.HALF_DIMINISHED
        self._stack(7)
        if token[0].startswith("0"):
            self.notices.append(f"{self.typed}: the digit 0 is read as ø, half-diminished")

    def _alt(self, _token: re.Match[str]) -> None:
        self.alt = True
        self._stack(7)

    def _sus(self, token: re.Match[str]) -> None:
        self.family = Family.SUS2 if token["sus_number"] == "2" else Family.SUS4

    def _add(self, token: re.Match[str]) -> None:
        number = int(token["add_number"])
        number = {2: 9, 4: 11, 6: 13}.get(number, number)
        sign = {"b": -1, "#": 1}.get(token["add_sign"], 0)
        self.added.append(Degree(number, sign))

    def _omit(self, token: re.Match[str]) -> None:
        self.omitted.append(int(token["omit_number"] or 3))

    def _dim(self, _token: re.Match[str]) -> None:
        self.family = Family.DIMINISHED

    def _aug(self, _token: re.Match[str]) -> None:
        self.family = Family.AUGMENTED

    def _major(self, token: re.Match[str]) -> None:
        number = token["major_number"]
        if number in {"6", "69", "6/9"}:
            self._six(nine=number != "6")
        elif number:
            self._stack(int(number), seventh=Degree(7))
        elif token[0][0] in "△Δ∆^":
            self._stack(7, seventh=Degree(7))
        else:
            self.major = True

    def _minor(self, token: re.Match[str]) -> None:
        if self.extension and token[0] == "m":
            self.notices.append(f"{self.typed}: read as minor seventh; write it with m first")
        self.family = Family.MINOR

    def _plus_seventh(self, _token: re.Match[str]) -> None:
        if self.family is Family.MINOR:
            self._stack(7, seventh=Degree(7))  # m+7: the plus belongs to the seventh
        else:
            self.family = Family.AUGMENTED
            self._stack(7)

    def _sign(self, token: re.Match[str]) -> None:
        up = token["sign_mark"] in "#+"
        self._alter(int(token["sign_number"]), 1 if up else -1)

    def _plus(self, _token: re.Match[str]) -> None:
        if self.extension:
            self.notices.append(f"{self.typed}: + after the number is read as ♯5")
        self.family = Family.AUGMENTED

    def _six_nine(self, _token: re.Match[str]) -> None:
        self._six(nine=True)

    def _number(self, token: re.Match[str]) -> None:
        number = int(token["number"])
        if token["seventh_major"]:
            self._stack(number, seventh=Degree(7))
        elif number == 6:
            self._six(nine=False)
        elif number == 5:
            self.family = Family.POWER
        elif number == 4:
            self.family = Family.SUS4
        elif number == 2:
            self.notices.append(f"{self.typed}: read as an added ninth")
            self.added.append(Degree(9))
        else:
            self._stack(number)

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

    def symbol(self, root: Name, bass: Name | None) -> ChordSymbol:
        """The finished symbol, with one form for each chord."""
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
        return ChordSymbol(
            self.typed,
            root,
            self.family,
            self.seventh,
            self.sixth,
            self.extension,
            tuple(sorted(set(self.altered))),
            tuple(sorted(set(self.added))),
            tuple(sorted(set(self.omitted))),
            self.alt,
            bass,
            tuple(self.notices),
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
            self.notices.append(f"{self.typed}: the added seventh is read as a {said} seventh")
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
            self.altered.remove(sharp)
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
_KINDS = (
    "half", "alt", "sus", "add", "omit", "dim", "aug", "major", "minor", "plus_seventh",
    "sign", "plus", "six_nine", "number",
)  # fmt: skip
