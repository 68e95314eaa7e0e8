"""Which signs stand in a text in ABC notation? Its tunes, their lines, notes and chords in quotes.

What the signs mean in a row is `halfstep.progression.notations.abc_reader`.

Source: The ABC music standard 2.1; the plus signs are common practice, no source.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache

from halfstep.errors import ReadError
from halfstep.progression.quality import Reading
from halfstep.progression.symbol import ChordSymbol, parse_symbol

_LONGEST_SYMBOL = 40
_LENGTH = r"\d{0,3}(?:/{1,6}\d{0,3})?"


@cache
def field_line() -> re.Pattern[str]:
    """A field on a line of its own: a letter or a word, a colon, a value."""
    return re.compile(r"\s*([A-Za-z+]):(?![|:])(.*)")


@cache
def _code() -> re.Pattern[str]:
    """A line up to its comment; a percent sign in quotes or after a backslash begins none."""
    return re.compile(r'(?:"[^"]*"|\\.|[^%])*')


@cache
def quoted_text() -> re.Pattern[str]:
    """What stands between quotation marks on one line."""
    return re.compile(r'"([^"\n]*)"')


@cache
def music_token() -> re.Pattern[str]:
    """One sign of a line of music; its kind is the name of the group."""
    return re.compile(
        rf"""
          (?P<field>    \[[A-Za-z]:[^\]]*\] )
        | (?P<quote>    "[^"]*" )
        | (?P<bar>      (?: :*\[?\|[|\]]*:* | ::+ ) (?:\d[\d,.\-]*)? )
        | (?P<volta>    \[\d[\d,.\-]* )
        | (?P<tuplet>   \((?:[2-9]|\d\d(?=:))(?::\d{{0,2}}(?::\d{{0,2}})?)? )
        | (?P<note>     (?:\^\^?|__?|=)?[A-Ga-g][,']{{0,5}}{_LENGTH} )
        | (?P<rest>     [zx]{_LENGTH} )
        | (?P<measures> [ZX]\d{{0,4}} )
        | (?P<stack>    \[(?:"[^"]*"|[^\]"|])*\]{_LENGTH} )
        | (?P<grace>    \{{[^}}]*\}} )
        | (?P<broken>   >{{1,3}} | <{{1,3}} )
        | (?P<tie>      - )
        | (?P<overlay>  & )
        | (?P<decoration> ![^!"|]{{1,40}}! | \+[A-Za-z0-9.()<>]{{1,20}}\+ )
        | (?P<sign>     [~.H-Yh-wy]\d* )
        | (?P<skip>     [\s`\\)*$;?@]+ | [(!] )
        """,
        re.VERBOSE,
    )


@cache
def note_sign() -> re.Pattern[str]:
    """A note in its parts."""
    return re.compile(
        rf"""
        (?P<accidental> \^\^? | __? | = )?
        (?P<letter>     [A-Ga-g] )
        (?P<octave>     [,']{{0,5}} )
        (?P<length>     {_LENGTH} )
        """,
        re.VERBOSE,
    )


@cache
def mark_words() -> dict[str, re.Pattern[str]]:
    """Quoted words that are marks, by the field of `Marks` that they set."""
    patterns = {
        "da_capo": r"\bD\.?\s*C\b|\bda capo\b",
        "dal_segno": r"\bD\.?\s*S\b|\bdal segno\b",
        "to_coda": r"\W*to coda\W*",
        "fine": r"\W*fine\W*",
        "coda": r"\W*coda\W*",
        "segno": r"\W*segno\W*",
    }
    return {name: re.compile(pattern, re.IGNORECASE) for name, pattern in patterns.items()}


DECORATION_MARKS = {
    "segno": "segno", "s": "segno", "coda": "coda", "o": "coda", "fine": "fine",
    "dacoda": "to_coda", "tocoda": "to_coda",
    "dc": "da_capo", "dacapo": "da_capo", "dcalfine": "da_capo", "dcalcoda": "da_capo",
    "ds": "dal_segno", "dsalfine": "dal_segno", "dsalcoda": "dal_segno",
}  # fmt: skip
"""Decorations that are marks, their letters alone, and the field of `Marks` that they set."""


@cache
def _plus_bass() -> re.Pattern[str]:
    return re.compile(r'"[^"\n]*/[A-Ga-g]\+"|"[a-g]/?\+"')


@cache
def _chord_over_bass() -> re.Pattern[str]:
    return re.compile(r"(?P<chord>[A-H].*)/(?P<bass>[A-Ha-h])(?P<sign>bb|##|[b#+=♭♯]?)")


@cache
def bass_alone() -> re.Pattern[str]:
    """A small letter that is a bass under the chord before."""
    return re.compile(r"(?P<bass>[a-h])/?(?P<sign>bb|##|[b#+=♭♯]?)")


@cache
def _short_quality() -> re.Pattern[str]:
    return re.compile(r"([A-G][b#]?)([ad])(7?)")


def writes_plus_for_sharp(text: str) -> bool:
    """True where a bass is written with a plus sign."""
    return bool(_plus_bass().search(text))


@dataclass(frozen=True, slots=True)
class AbcTune:
    """The lines of one tune, comments taken out, with their numbers in the file."""

    number: int | None
    lines: tuple[tuple[int, str], ...]

    @property
    def title(self) -> str:
        """The first title, as written."""
        return next((text[2:].strip() for _, text in self.lines if text.startswith("T:")), "")


def tunes_of(text: str) -> list[AbcTune]:
    """The tunes of a file; each has the fields that stand before the first."""
    lines = list(_code_lines(text))
    starts = [place for place, (_, line) in enumerate(lines) if line.startswith("X:")]
    if not starts:
        whole = tuple(line for line in lines if line[1])
        if not any(line.startswith("K:") for _, line in whole):
            raise ReadError("this is no ABC notation; a tune begins with X: and a key K:")
        return [AbcTune(None, whole)]
    shared = tuple(line for line in lines[: starts[0]] if re.match(r"[MLQR]:", line[1]))
    tunes: list[AbcTune] = []
    for start, end in zip(starts, [*starts[1:], len(lines)], strict=True):
        block = lines[start:end]
        blank = next((n for n, (_, line) in enumerate(block) if not line), len(block))
        number = re.match(r"X:\s*(\d{1,9})", block[0][1])
        tunes.append(AbcTune(int(number[1]) if number else None, (*shared, *block[:blank])))
    return tunes


def _code_lines(text: str) -> Iterator[tuple[int, str]]:
    """Numbered lines without comments; a line that was only a comment is left out."""
    skipping = False
    for number, line in enumerate(text.splitlines(), 1):
        if line.startswith("%"):
            skipping = line.startswith("%%begin") or (skipping and not line.startswith("%%end"))
            continue
        if not skipping:
            code = _code().match(line)
            yield number, code[0].rstrip() if code else ""


@dataclass(frozen=True, slots=True)
class AbcDialect:
    """How this file writes chords: are plus signs sharps, and what are doubtful signs?"""

    plus: bool
    reading: Reading

    def symbol(self, text: str) -> ChordSymbol | None:
        """The chord that a quoted text is from end to end, or None."""
        typed = text.strip()
        if typed.startswith("(") and typed.endswith(")"):
            typed = typed[1:-1]
        if len(typed) > _LONGEST_SYMBOL:
            return None
        plain = typed
        if slash := _chord_over_bass().fullmatch(plain):
            bass = self.bass(slash)
            plain = f"{slash['chord']}/{bass}" if bass else plain
        if self.plus and (short := _short_quality().fullmatch(plain.partition("/")[0])):
            quality = {"a": "aug", "d": "dim"}[short[2]]
            plain = short[1] + quality + plain[len(short[1]) + 1 :]
        try:
            return replace(parse_symbol(plain, self.reading), typed=typed)
        except ReadError:
            return None

    def bass(self, typed: re.Match[str]) -> str:
        """A bass as it stands in a symbol; empty where its plus sign means nothing here."""
        sign = typed["sign"].replace("=", "")
        if sign == "+" and not self.plus:
            return ""
        return str(typed["bass"]).upper() + sign.replace("+", "#")


def chosen_tune(tunes: Sequence[AbcTune], number: int | None, dialect: AbcDialect) -> AbcTune:
    """The tune of that number; without one the first that has chords.

    Raises
    ------
    ReadError
        When there is none.
    """
    if number is None:
        first = next((tune for tune in tunes if any(map(dialect.symbol, quoted_texts(tune)))), None)
        if first is None:
            raise ReadError('there is no tune with chords; they are written "Am7" before a note')
        return first
    for tune in tunes:
        if tune.number == number:
            return tune
    known = ", ".join(str(tune.number) for tune in tunes[:20])
    raise ReadError(f"there is no tune {number}; the file has {known}")


def quoted_texts(tune: AbcTune) -> Iterator[str]:
    """All that stands between quotation marks in a tune, chords and other words."""
    return (text.strip() for _, line in tune.lines for text in quoted_text().findall(line))
