"""What does the suffix of a chord symbol say? Token by token, from the root to the bass.

A token is what a player reads in one glance: ``m``, ``maj7``, ``sus4``, ``b9``. Each has a
row in `_TOKENS` with all its spellings, and a method that says what it does to the chord.

Source: common practice, no source.
"""

from __future__ import annotations

import re
from functools import cache

from halfstep.pitch import Degree
from halfstep.progression.quality import ChordQuality, Family, Reading

_TOKENS = (
    # half-diminished; the digit 0 stands for the sign
    ("half", "ømM-0", r"ø7? | (?i:m(?:in?)?)7\(?b5\)? | -7\(?b5\)? | 07?"),
    ("alt", "7aA", r"7? (?i:alt(?:ered)?) \.? 7?"),
    ("sus", "sS", r"(?i:sus) \s? (?: (?P<number>24|42|2|4) (?!\d) )?"),
    ("six_nine", "aA69", r"(?i:add)? 6 [\s/,(]* 9 | 6 \(? (?i:add) \s? 9 | 9 \s? / \s? 6"),
    ("add", "aA", r"(?i:add) [\s.]* (?P<sign>[b\#]?) (?P<number>2|3|4|6|7|9|11|13)"),
    ("omit", "nNoO", r"(?i:no|omit) (?: \s? (?P<number>11|13|1|3|5|7|9) (?i:rd|th|st)? )?"),
    ("dim", "dD°o", r"(?i:dim) \.? (?P<five>5?) | ° | o"),
    ("aug", "aA", r"(?i:aug) \.? 5?"),
    # a minus right after the root and before a nine is in doubt
    ("minus_nine", "-", r"\A-9"),
    # a small m but not of maj, madd or maug; a hyphen but not in -5, nor in brackets
    (
        "minor",
        "mM-",
        r"(?i:min(?:or)?) | (?i:mi)(?!n) | m(?! (?i:aj) | [Aa](?! (?i:dd|ug) ) )"
        r"| (?<! [\d(] ) - (?! 5 | (?<=m-)9 )",
    ),
    (
        "major",
        "mM△jJ",
        r"(?: (?i:maj(?:or)?) | [Mm][Aa](?! (?i:dd|ug) ) | M | △ | [jJ](?=7|9|1[13]) ) [.\s]?"
        r"(?P<number>13|11|9|7|6/9|69|6)?",
    ),
    ("dominant", "dD", r"(?i:dom(?:inant)?)"),
    # a plus right after the root and before a nine is in doubt
    ("plus_nine", "+", r"\A\+9"),
    # in brackets a sign may follow its degree: (9b)
    ("after", "195", r"(?<=[(,\s]) (?P<number>13|11|9|5) (?P<mark>[b\#+-]) (?=[),])"),
    ("plus_seventh", "+", r"\+7"),
    ("sign", "b#+♮-", r"(?P<mark>[b\#+♮-]) (?P<number>13|11|10|9|7|6|5|4|3|2)"),
    ("plus", "+", r"\+"),
    ("over", "/", r"/ (?P<number>13|11|9)"),
    # a capital M after the number makes the seventh major: 7M
    ("number", "1976542", r"(?P<number>13|11|9|7|6|5|4|2) (?P<major>M(?![AaIi]))?"),
)
"""The kinds of token, the signs each may begin with, and its spellings; the first that fits."""

_FILLER = r"""
      [(),\s\[\]]+                 # brackets and blanks
    | (?<=.) \.                    # a full stop after an abbreviation
    | / (?= [b\#+♮-]\d | [2-7] | (?i:dim|aug|sus|add|no|omit|alt|m) )   # a slash between tokens
"""
_FILLER_STARTS = frozenset("(),[]./")

OTHER_READINGS = {
    "triangle": "triad", "plus_seventh": "major", "plus_ninth": "sharp", "minus_ninth": "flat",
    "two": "sus2", "over": "stacked", "zero": "whole", "seventh_m": "major",
}  # fmt: skip
"""The reading of a doubtful sign that is not the default."""

_THIRDLESS = {Family.SUS4, Family.SUS2, Family.POWER}
_ALT_COLOURS = {Degree(5, -1), Degree(5, 1), Degree(9, -1), Degree(9, 1)}
_MARKS = {"": 0, "♮": 0, "b": -1, "-": -1, "#": 1, "+": 1}


class NoSenseError(Exception):
    """A suffix cannot be read from a place on, counted from 0."""

    def __init__(self, place: int) -> None:
        super().__init__(place)
        self.place = place


@cache
def _pattern(verbose: str) -> re.Pattern[str]:
    return re.compile(verbose, re.VERBOSE)


def _past_filler(suffix: str, place: int) -> int:
    """The place after what separates tokens; ``place`` itself where nothing does."""
    if suffix[place] in _FILLER_STARTS or suffix[place].isspace():
        if filler := _pattern(_FILLER).match(suffix, place):
            return filler.end()
    return place


def _token_at(suffix: str, place: int) -> tuple[str, re.Match[str]]:
    """The token that stands at a place, and its kind.

    Raises
    ------
    NoSenseError
        When none does.
    """
    first = suffix[place]
    for kind, starts, verbose in _TOKENS:
        if first in starts and (token := _pattern(verbose).match(suffix, place)):
            return kind, token
    raise NoSenseError(place)


class SuffixReader:
    """Collects the tokens between a root and a bass.

    Attributes
    ----------
    notices : list of str
        What was not certain, with a place ``{root}`` for the root.
    doubts : dict of str to str
        Fields of the reading that were not settled, and how each was read.
    """

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

    def read(self, suffix: str) -> ChordQuality:
        """The chord that a suffix writes; each kind of token has its method.

        Raises
        ------
        NoSenseError
        """
        place = 0
        while place < len(suffix):
            if (after := _past_filler(suffix, place)) > place:
                place = after
                continue
            kind, token = _token_at(suffix, place)
            getattr(self, f"_{kind}")(token)
            place = token.end()
        return self._settled()

    def _doubt(self, field: str, notice: str) -> bool:
        """Is a sign read in its other way? What is not settled is noted."""
        settled = getattr(self.reading, field)
        if settled is None:
            self.doubts[field] = notice
        return bool(settled == OTHER_READINGS[field])

    def _half(self, token: re.Match[str]) -> None:
        zero = token[0].startswith("0")
        whole = zero and self._doubt("zero", "the digit 0 is read as ø, half-diminished")
        self.family = Family.DIMINISHED if whole else Family.HALF_DIMINISHED
        self._stack(7)

    def _alt(self, token: re.Match[str]) -> None:
        if self.major or self.seventh == Degree(7):
            raise NoSenseError(token.start())
        self.alt = True
        self._stack(7)

    def _sus(self, token: re.Match[str]) -> None:
        number = token["number"] or ""
        both = len(number) == 2 or (self.family is Family.SUS2 and number != "2")
        self.family = Family.SUS2 if number == "2" else Family.SUS4
        if both:
            self.added.append(Degree(9))

    def _add(self, token: re.Match[str]) -> None:
        number = int(token["number"])
        number = {2: 9, 4: 11, 6: 13}.get(number, number)
        self.added.append(Degree(number, _MARKS[token["sign"]]))

    def _omit(self, token: re.Match[str]) -> None:
        self.omitted.append(int(token["number"] or 3))

    def _dim(self, token: re.Match[str]) -> None:
        if token["five"] and (self.extension or self.sixth):
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
        number = token["number"]
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
            raise NoSenseError(token.start())

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
        self._alter(int(token["number"]), _MARKS[token["mark"]])

    def _sign(self, token: re.Match[str]) -> None:
        number, mark = int(token["number"]), token["mark"]
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
        if number == 5 and (token.start() or token["major"]):
            raise NoSenseError(token.start())
        if token["major"] and number > 6:
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
        number = int(token["number"])
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

    def _settled(self) -> ChordQuality:
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
        return ChordQuality(
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
            size = "major" if sevenths[0] == Degree(7) else "minor"
            self.notices.append(f"the added seventh is read as a {size} seventh")
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
