"""What does a writer mean by a sign that can be read in two ways? Said by example.

A book of charts is settled once with equations, the sign as it is typed on the left and a
plain symbol on the right::

    C2 = Csus2, C7+ = Cmaj7, B = Bb, e = Em

The root does not matter as long as both sides have it. What can be settled, and what is
read when nothing is said, stands at `halfstep.progression.quality.Reading`.

Source: common practice, no source; B = Bb and H are the German names.
"""

from __future__ import annotations

import re
from collections.abc import Iterable
from typing import Any

from halfstep.errors import ReadError
from halfstep.progression.quality import DEFAULT, Reading
from halfstep.progression.symbol import normalised, parse_symbol

_MEANINGS = {
    "△": {"C": ("triangle", "triad"), "Cmaj7": ("triangle", "seventh")},
    "7+": {"C7#5": ("plus_seventh", "augmented"), "Cmaj7": ("plus_seventh", "major")},
    "+9": {"C9#5": ("plus_ninth", "augmented"), "C7#9": ("plus_ninth", "sharp")},
    "-9": {"Cm9": ("minus_ninth", "minor"), "C(b9)": ("minus_ninth", "flat")},
    "2": {"Cadd9": ("two", "add9"), "Csus2": ("two", "sus2")},
    "/9": {"Cadd9": ("over", "added"), "C9": ("over", "stacked")},
    "0": {"Cm7b5": ("zero", "half"), "Cdim7": ("zero", "whole")},
    "7m": {"Cm7": ("seventh_m", "minor"), "Cmaj7": ("seventh_m", "major")},
}
"""A typed suffix, what it may mean on C, and the field of a reading that says so."""

_LETTERS = {("H", "B"): ("h", "plain"), ("B", "Bb"): ("h", "german")}
_ENDED = {"is": "#", "es": "b", "s": "b"}
EXAMPLE = "C2 = Csus2, B = Bb"


def parse_reading(text: str, base: Reading = DEFAULT) -> Reading:
    """Read equations such as ``C2 = Csus2, B = Bb``, over what was settled before.

    Raises
    ------
    ReadError
        Names the equation, and what its sign may mean.

    Examples
    --------
    >>> parse_reading("C2 = Csus2, e = Em").two
    'sus2'
    """
    settled: dict[str, Any] = {}
    for equation in filter(None, (part.strip() for part in re.split(r"[,;\n]", text))):
        left, equals, right = (part.strip() for part in equation.partition("="))
        if not (left and equals and right):
            raise ReadError(f"{equation!r} settles no reading; write such as {EXAMPLE}")
        field, value = _settled(left, right)
        settled[field] = value
    return base._replace(**settled)


def _settled(left: str, right: str) -> tuple[str, object]:
    """The field of a reading that an equation sets, and its value."""
    if (left, normalised(right)) in _LETTERS:
        return _LETTERS[left, normalised(right)]
    if _is_ended(left) and right in {left[0] + _ENDED[left[1:]], f"{left[0]}♯", f"{left[0]}♭"}:
        return "endings", True
    if left.islower() and right == f"{left.upper()}m" and left in set("abcdefgh"):
        return "small_is_minor", True
    suffix = normalised(left[1:].replace("^", "△")).translate({0x0394: "△", 0x2206: "△"})
    meanings = _MEANINGS.get("0" if suffix == "07" else suffix.replace("−", "-"))
    if meanings is None:
        known = ", ".join(f"C{sign}" for sign in _MEANINGS)
        raise ReadError(
            f"{left!r} is not in doubt; what can be settled is {known}, B = Bb, H = B, "
            "Cis = C#, e = Em"
        )
    for plain, field in meanings.items():
        if parse_symbol(left[0] + plain[1:]) == parse_symbol(right):
            return field
    either = " or ".join(left[0] + plain[1:] for plain in meanings)
    raise ReadError(f"{left} = {right} is no reading of it; {left} may be {either}")


def _is_ended(name: str) -> bool:
    """True for a letter with an ending for its sign."""
    return name[:1] in set("ABCDEFGH") and name[1:] in _ENDED and (len(name) > 2 or name[0] in "AE")


def reading_text(reading: Reading) -> str:
    """The equations of a reading, which read back to it; empty where nothing is settled.

    >>> reading_text(parse_reading("B=Bb,C7+=Cmaj7"))
    'C7+ = Cmaj7, B = Bb'
    """
    equations = [
        f"C{sign} = {plain}"
        for sign, meanings in _MEANINGS.items()
        for plain, (field, value) in meanings.items()
        if getattr(reading, field) == value
    ]
    equations += [
        f"{left} = {right}" for (left, right), (_, h) in _LETTERS.items() if reading.h == h
    ]
    equations += ["Cis = C#"] if reading.endings else []
    return ", ".join(equations + (["e = Em"] if reading.small_is_minor else []))


def over(base: Reading, stated: Reading) -> Reading:
    """What is stated, and otherwise what the base says."""
    return base._replace(**{name: value for name, value in stated._asdict().items() if value})


def with_h_seen(chords: Iterable[str], reading: Reading) -> tuple[Reading, tuple[str, ...]]:
    """Settle H from the company it keeps, where nothing else has, with a notice.

    A writer of both H and B flat means B natural by H and by B; with no B at all there is
    nothing to ask. With H and B but no B flat nothing is settled, and H asks.
    """
    if reading.h:
        return reading, ()
    chords = list(chords)
    if not _any_is(r"H|.*/H[b#]?\Z", chords, letter="H"):
        return reading, ()
    if _any_is(r"B[b♭]|.*/B[b♭]\Z", chords, letter="B"):
        notice = "H stands beside B flat: H and B are both read as B natural"
    elif _any_is(r"B(?![b♭])|.*/B\Z", chords, letter="B"):
        return reading, ()
    else:
        notice = "H is read as B natural"
    return reading._replace(h="plain"), (notice,)


def _any_is(pattern: str, chords: Iterable[str], *, letter: str) -> bool:
    """True where a root or a bass is of that pattern, which has a certain letter in it."""
    return any(letter in chord and re.match(pattern, chord) for chord in chords)
