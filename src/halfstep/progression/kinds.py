"""What does a MusicXML harmony say, as one of our chord symbols, and the way back?

MusicXML writes a chord as a *kind*, one of 33 words, and *degrees* for what the kind
does not say: a value, an alteration and one of add, alter, subtract.

Conventions
-----------
- An added degree counts against a dominant chord, so an added 7 with alteration 0 is the
  minor seventh; an altered one counts against the note the kind already has.
- `symbol_of_kind` reads, `kind_of` writes; what one writes the other reads back to an
  equal symbol.
- Words outside the list (``minor-major``, ``maj69``) are met in real files: the text the
  page shows decides, then the word itself.

Source: MusicXML 4.0, kind-value and degree (W3C). The augmented sixths, Neapolitan and
Tristan have no documented notes; their reading is common practice, no source, and
carries a notice.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

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
_ALT = (Degree(5, -1), Degree(5, 1), Degree(9, -1), Degree(9, 1))


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
    """

    value: int
    alter: int
    type: str


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
    drawn = base
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


def kind_of(symbol: ChordSymbol) -> tuple[str, tuple[KindDegree, ...]]:
    """The kind and the degrees that write a symbol in MusicXML.

    >>> kind_of(parse_symbol("C7b9"))
    ('dominant', (KindDegree(value=9, alter=-1, type='add'),))
    """
    if symbol.silent:
        return "none", ()
    kind, degrees = _stack_kind(symbol)
    has_fifth = 0 if kind.startswith("augmented") else _FIFTHS.get(symbol.family, 0)
    altered = symbol.altered + (_ALT if symbol.alt else ())
    if kind == "augmented-seventh":
        altered = tuple(d for d in altered if d != Degree(5, 1))
    stated = set(_STACKED[parse_symbol("C" + KINDS[kind]).extension])
    if not has_fifth and kind != "augmented-seventh" and symbol.family is not Family.AUGMENTED:
        stated.add(5)
    if symbol.family is Family.MAJOR:
        stated.add(3)
    for degree in altered:
        how = "alter" if degree.number in stated else "add"
        stated.discard(degree.number)
        degrees.append(KindDegree(degree.number, degree.alteration, how))
    for degree in symbol.added:
        up = 1 if degree.number == 7 else 0
        degrees.append(KindDegree(degree.number, degree.alteration + up, "add"))
    degrees += [KindDegree(number, 0, "subtract") for number in symbol.omitted]
    return kind, tuple(degrees)


def _stack_kind(symbol: ChordSymbol) -> tuple[str, list[KindDegree]]:
    """The kind that says most of the stack, and what it leaves to say."""
    if symbol.sixth:
        sixth = _SIXTHS.get(symbol.family)
        return (sixth, []) if sixth else (_TRIADS[symbol.family], [KindDegree(6, 0, "add")])
    if not symbol.seventh:
        return _TRIADS[symbol.family], []
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
    stacked = [KindDegree(number, 0, "add") for number in rest]
    if kinds:
        return kinds[0], stacked
    seventh = KindDegree(7, symbol.seventh.alteration + 1, "add")
    return _TRIADS[symbol.family], [seventh, *stacked]
