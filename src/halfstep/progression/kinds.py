"""What does a MusicXML harmony say, as one of our chord symbols, and the way back?

MusicXML writes a chord as a *kind*, one of 33 words, and *degrees* for what the kind
does not say: a value, an alteration and one of add, alter, subtract.

Conventions
-----------
- An added degree counts against a dominant chord, so an added 7 with alteration 0 is the
  minor seventh; an altered one counts against the note the kind already has.
- `symbol_of_kind` reads, `kind_of` writes; what one writes the other reads back to an
  equal symbol.
- The text of a kind says the kind alone, and what degrees say is printed once more by
  nobody: programs that print the text with every degree behind it, and programs that put
  a name together from kind and degrees, both come to ``G7♭9``. The altered dominant is a
  dominant whose text says so: four degrees would be printed, and all at once are not meant.
- A suspended seventh is a dominant whose third is taken out for the fourth: some programs
  take a seventh that is added for a major one.
- Words outside the list (``minor-major``, ``maj69``) are met in real files: the text the
  page shows decides, then the word itself.

Source: MusicXML 4.0, kind-value and degree (W3C). The augmented sixths, Neapolitan and
Tristan have no documented notes; their reading is common practice, no source, and
carries a notice.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import cache, lru_cache

from halfstep.errors import ReadError
from halfstep.pitch import Degree, Name
from halfstep.progression.quality import Family
from halfstep.progression.symbol import ChordSymbol, parse_symbol

KINDS = {
    "major": "",
    "minor": "m",
    "augmented": "+",
    "diminished": "dim",
    "dominant": "7",
    "major-seventh": "maj7",
    "minor-seventh": "m7",
    "diminished-seventh": "dim7",
    "augmented-seventh": "7#5",
    "half-diminished": "m7b5",
    "major-minor": "m(maj7)",
    "major-sixth": "6",
    "minor-sixth": "m6",
    "dominant-ninth": "9",
    "major-ninth": "maj9",
    "minor-ninth": "m9",
    "dominant-11th": "11",
    "major-11th": "maj11",
    "minor-11th": "m11",
    "dominant-13th": "13",
    "major-13th": "maj13",
    "minor-13th": "m13",
    "suspended-second": "sus2",
    "suspended-fourth": "sus4",
    "Neapolitan": "",
    "Italian": "7no5",
    "French": "7b5",
    "German": "7",
    "pedal": "5no5",
    "power": "5",
    "Tristan": "m7b5",
    "other": "",
    "none": "N.C.",
}
"""Every kind of the standard and what follows the root in our symbol."""

ALIASES = {"minor-major": "major-minor", "maj69": "major-sixth-ninth", "min-maj": "major-minor"}
"""Words of real files that are not in the standard."""

_UNCERTAIN = {"Neapolitan", "Italian", "French", "German", "pedal", "Tristan", "other"}
_STACK_KINDS = {
    (Family.MAJOR, -1): ("dominant", "dominant-ninth", "dominant-11th", "dominant-13th"),
    (Family.MAJOR, 0): ("major-seventh", "major-ninth", "major-11th", "major-13th"),
    (Family.MINOR, -1): ("minor-seventh", "minor-ninth", "minor-11th", "minor-13th"),
    (Family.MINOR, 0): ("major-minor",),
    (Family.DIMINISHED, -2): ("diminished-seventh",),
    (Family.HALF_DIMINISHED, -1): ("half-diminished",),
}
_TRIADS = {
    Family.MAJOR: "major",
    Family.MINOR: "minor",
    Family.DIMINISHED: "diminished",
    Family.HALF_DIMINISHED: "half-diminished",
    Family.AUGMENTED: "augmented",
    Family.SUS4: "suspended-fourth",
    Family.SUS2: "suspended-second",
    Family.POWER: "power",
}
_SIXTHS = {Family.MAJOR: "major-sixth", Family.MINOR: "minor-sixth"}
_STACKED = {0: (), 7: (), 9: (9,), 11: (9, 11), 13: (9, 13)}
_FIFTHS = {Family.DIMINISHED: -1, Family.HALF_DIMINISHED: -1, Family.AUGMENTED: 1}
_THIRDS = {Family.MINOR: -1, Family.DIMINISHED: -1, Family.HALF_DIMINISHED: -1}
_THIRDLESS = {Family.SUS4, Family.SUS2, Family.POWER}
_SUSPENSIONS = {Family.SUS4: 4, Family.SUS2: 2}
_ALT_TEXT = "7alt."
"""With its point some programs keep it as a text; without they take it apart."""


@dataclass(frozen=True, slots=True)
class KindDegree:
    """One ``<degree>``: what it does to the chord of the kind.

    Attributes
    ----------
    value : int
        The degree, 1 to 13.
    alter : int
        Semitones, counted as ``type`` says.
    type : str
        ``add``, ``alter`` or ``subtract``.
    word : str or None
        What is printed before its sign and number; None where it is not printed. A degree
        that is read has none.
    """

    value: int
    alter: int
    type: str
    word: str | None = field(default="", compare=False)


@dataclass(frozen=True, slots=True)
class WrittenKind:
    """A chord without its root and bass, as MusicXML writes it.

    Attributes
    ----------
    kind : str
        One of `KINDS`.
    text : str
        What is printed for the kind alone: ``maj7``.
    degrees : tuple of KindDegree
        What is printed after it.
    """

    kind: str
    text: str
    degrees: tuple[KindDegree, ...] = ()

    @property
    def bracketed(self) -> bool:
        """True where a sign of the degrees would run into the root: ``C(♭5)``."""
        first = self.degrees[0] if self.degrees else None
        return first is not None and not (first.word or self.text[-1:].isdigit())


@lru_cache(maxsize=4096)
def symbol_of_kind(
    root: Name,
    kind: str,
    degrees: tuple[KindDegree, ...] = (),
    *,
    bass: Name | None = None,
    text: str | None = None,
) -> ChordSymbol:
    """The chord a MusicXML harmony stands for; ``text`` is what the page shows.

    >>> from halfstep.pitch import parse_name
    >>> seventh = KindDegree(7, 0, "add")
    >>> symbol_of_kind(parse_name("C"), "suspended-fourth", (seventh,)).ascii
    'C7sus4'
    """
    kind = kind.strip()
    if kind == "none":
        return parse_symbol("N.C.")
    base, notices = _base(root, ALIASES.get(kind, kind), (text or "").strip())
    if kind == "dominant":
        base = _altered_dominant(base, text or "")
    drawn, degrees = _suspended(base, degrees)
    for degree in degrees:
        drawn = _with_degree(drawn, degree)
    settled = parse_symbol(replace(drawn, bass=bass).ascii)
    typed = _as_written(settled, (text or "").strip())
    return replace(settled, typed=typed, notices=notices)


def _base(root: Name, kind: str, text: str) -> tuple[ChordSymbol, tuple[str, ...]]:
    """The chord of the kind alone, or of the text where the kind says nothing."""
    if kind in KINDS and kind not in _UNCERTAIN:
        return _suffixed(root, KINDS[kind]), ()
    for suffix in (text, "" if kind in KINDS else kind):
        try:
            if suffix:
                symbol = _suffixed(root, suffix)
                return symbol, symbol.notices
        except ReadError:
            continue
    symbol = _suffixed(root, KINDS.get(kind, ""))
    doubt = f"kind {kind!r} does not say its notes" if kind else "a harmony without a kind"
    return symbol, (f"{root.ascii}: {doubt}; read as {symbol.ascii}",)


def _altered_dominant(dominant: ChordSymbol, text: str) -> ChordSymbol:
    """The altered dominant where the page says so; degrees may say it once more."""
    try:
        printed = _suffixed(dominant.root, text.strip()) if "alt" in text.casefold() else dominant
    except ReadError:
        return dominant
    return printed if printed.alt else dominant


def _suspended(
    base: ChordSymbol, degrees: tuple[KindDegree, ...]
) -> tuple[ChordSymbol, tuple[KindDegree, ...]]:
    """A fourth or second in the place of a major third is a suspension; the other degrees."""
    no_third = KindDegree(3, 0, "subtract")
    for family, number in _SUSPENSIONS.items():
        added = KindDegree(number, 0, "add")
        if base.family is Family.MAJOR and {no_third, added} <= set(degrees):
            others = tuple(d for d in degrees if d not in {no_third, added})
            return replace(base, family=family), others
    return base, degrees


@lru_cache(maxsize=1024)
def _suffixed(root: Name, suffix: str) -> ChordSymbol:
    plain = parse_symbol("C" + suffix.replace("major-sixth-ninth", "6/9"))
    if plain.silent:
        raise ReadError(f"{suffix!r} is no kind of chord")
    return replace(plain, root=root)


def _as_written(symbol: ChordSymbol, text: str) -> str:
    """The page's own text where it says the same chord, else ours."""
    bass = f"/{symbol.bass.ascii}" if symbol.bass else ""
    typed = f"{symbol.root.ascii}{text}{bass}"
    try:
        return typed if parse_symbol(typed) == symbol else symbol.ascii
    except ReadError:
        return symbol.ascii


def _with_degree(symbol: ChordSymbol, degree: KindDegree) -> ChordSymbol:
    if degree.type == "subtract":
        return _without(symbol, degree.value)
    if degree.type == "alter":
        return _altered(symbol, degree)
    return _added(symbol, degree)


def _without(symbol: ChordSymbol, number: int) -> ChordSymbol:
    if number in {6, 13} and symbol.sixth:
        return replace(symbol, sixth=False)
    if number == 7 and symbol.extension == 7:
        return replace(symbol, seventh=None, extension=0)
    if number not in {1, 3, 5, 7, 9, 11, 13}:
        return symbol
    return replace(symbol, omitted=(*symbol.omitted, number))


def _altered(symbol: ChordSymbol, degree: KindDegree) -> ChordSymbol:
    """The degree moved from where the kind has it."""
    if degree.value == 7 and symbol.seventh:
        return replace(symbol, seventh=Degree(7, symbol.seventh.alteration + degree.alter))
    at = degree.alter + _placed(symbol, degree.value)
    if degree.value == 5 and symbol.family in _FIFTHS and at == 0:
        plain = Family.MAJOR if symbol.family is Family.AUGMENTED else Family.MINOR
        return replace(symbol, family=plain)
    if degree.value == 3 and symbol.family is Family.MINOR and at == 0:
        return replace(symbol, family=Family.MAJOR)
    if at == 0:
        return symbol
    number = {2: 9, 4: 11, 6: 13}.get(degree.value, degree.value)
    if number in {3, 5, 9, 11, 13}:
        return replace(symbol, altered=(*symbol.altered, Degree(number, _one(at))))
    return symbol


def _placed(symbol: ChordSymbol, number: int) -> int:
    """The alteration a degree of the kind already has."""
    table = {3: _THIRDS, 5: _FIFTHS}.get(number, {})
    alterations = [d.alteration for d in symbol.altered if d.number == number]
    return alterations[0] if alterations else table.get(symbol.family, 0)


def _one(alteration: int) -> int:
    """A single sign; chord symbols know no double ones."""
    return max(-1, min(1, alteration))


def _added(symbol: ChordSymbol, degree: KindDegree) -> ChordSymbol:
    """The degree counted against a dominant chord."""
    number = {2: 9, 4: 11}.get(degree.value, degree.value)
    alter = max(-2, min(1, degree.alter))
    if number == 7:
        seventh = Degree(7, alter - 1)
        if symbol.seventh is None and -2 <= seventh.alteration <= 0:
            return replace(symbol, seventh=seventh, extension=7)
        return replace(symbol, added=(*symbol.added, Degree(7, _one(alter - 1))))
    alter = _one(alter)
    if number == 6 and alter == 0 and not symbol.extension:
        return replace(symbol, sixth=True)
    number = {6: 13}.get(number, number)
    if number == 5 or (number >= 9 and alter):
        return _with_tension(symbol, Degree(number, alter))
    if number in {3, 9, 11, 13}:
        return replace(symbol, added=(*symbol.added, Degree(number, alter)))
    return symbol


def _with_tension(symbol: ChordSymbol, degree: Degree) -> ChordSymbol:
    if degree.alteration:
        return replace(symbol, altered=(*symbol.altered, degree))
    return replace(symbol, omitted=tuple(n for n in symbol.omitted if n != degree.number))


def kind_of(symbol: ChordSymbol) -> WrittenKind:
    """The kind and the degrees that write a symbol in MusicXML.

    >>> kind_of(parse_symbol("Cm7b5/Gb"))
    WrittenKind(kind='half-diminished', text='ø7', degrees=())
    """
    if symbol.silent:
        return WrittenKind("none", "N.C.")
    kind, degrees = _stack_kind(symbol)
    if symbol.alt:
        return WrittenKind(kind, _ALT_TEXT, tuple(degrees + _further_degrees(symbol, kind)))
    return WrittenKind(kind, _printed(kind), tuple(degrees + _further_degrees(symbol, kind)))


def _further_degrees(symbol: ChordSymbol, kind: str) -> list[KindDegree]:
    """What is altered, added and left out."""
    altered = symbol.altered
    if kind == "augmented-seventh":
        altered = tuple(d for d in altered if d != Degree(5, 1))
    stated = _stated_degrees(symbol, kind)
    degrees = []
    for degree in altered:
        how = "alter" if degree.number in stated else "add"
        stated.discard(degree.number)
        degrees.append(KindDegree(degree.number, degree.alteration, how))
    degrees += [_added_degree(degree, kind) for degree in symbol.added]
    return degrees + [KindDegree(number, 0, "subtract", "no") for number in symbol.omitted]


def _stated_degrees(symbol: ChordSymbol, kind: str) -> set[int]:
    """The degrees of the kind that an alteration moves; any other it adds."""
    stated = set(_STACKED[_suffixed(symbol.root, KINDS[kind]).extension])
    if symbol.family is Family.MAJOR:
        stated.add(3)
    keeps_fifth = symbol.family not in _FIFTHS and kind != "augmented-seventh"
    return stated | {5} if keeps_fifth else stated


def _added_degree(degree: Degree, kind: str) -> KindDegree:
    up = 1 if degree.number == 7 else 0
    beside_sixth = kind in _SIXTHS.values() and degree == Degree(9)
    word = "/" if beside_sixth else "add"
    return KindDegree(degree.number, degree.alteration + up, "add", word)


@cache
def _printed(kind: str) -> str:
    """The kind alone in house style: ``m(maj7)``."""
    return str(_suffixed(Name(0), KINDS[kind])).removeprefix("C")


def _stack_kind(symbol: ChordSymbol) -> tuple[str, list[KindDegree]]:
    """The kind that says most of the stack, and what it leaves to say."""
    if symbol.sixth:
        sixth = _SIXTHS.get(symbol.family)
        return (sixth, []) if sixth else (_TRIADS[symbol.family], [KindDegree(6, 0, "add", "add")])
    if not symbol.seventh:
        return _TRIADS[symbol.family], []
    if symbol.family in _SUSPENSIONS:
        kind, degrees = _stack_kind(replace(symbol, family=Family.MAJOR, altered=()))
        fourth = KindDegree(_SUSPENSIONS[symbol.family], 0, "add", "sus")
        return kind, [*degrees, KindDegree(3, 0, "subtract", None), fourth]
    kinds = _STACK_KINDS.get((symbol.family, symbol.seventh.alteration), ())
    fives = {d.alteration for d in symbol.altered if d.number == 5}
    if kinds and kinds[0] == "dominant" and fives == {1} and symbol.extension == 7:
        if not symbol.alt:
            return "augmented-seventh", []
    rank = (7, 9, 11, 13).index(symbol.extension)
    if rank < len(kinds):
        return kinds[rank], []
    raised = {degree.number for degree in symbol.altered}
    rest = (number for number in _STACKED[symbol.extension] if number not in raised)
    stacked = [KindDegree(number, 0, "add", "add") for number in rest]
    if kinds:
        return kinds[0], stacked
    seventh = KindDegree(7, symbol.seventh.alteration + 1, "add", "add")
    return _TRIADS[symbol.family], [seventh, *stacked]
