"""What shape has a character? Text as outlines, so that a picture needs no font.

Letters come from the serif that typst carries, musical signs from the engraver's own
music font (SMuFL code points); both are drawn as SVG paths, so that no program that
shows or prints the picture can put a box where ♭ or ø should be.

Conventions
-----------
- An outline lives in its font's grid of `EM` units, y pointing up, baseline at 0.
- A run of text is set at a size (the em) in the units of the picture, y pointing down.

Source: SMuFL 1.4 for the code points of the signs.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

EM = 1000.0
"""Units of the grid an outline is drawn on."""

FLAT, NATURAL, SHARP, DOUBLE_SHARP, DOUBLE_FLAT = range(0xE260, 0xE265)
BREATH = 0xE4CE

_BEAT = 0xECA5  # metNoteQuarterUp, for a tempo

_SIGNS = {
    "♭": FLAT, "♮": NATURAL, "♯": SHARP, "𝄪": DOUBLE_SHARP, "𝄫": DOUBLE_FLAT, "♩": _BEAT,
}  # fmt: skip
_SIGN_SCALE = 1.12  # of a music font, in which an accidental is made for heads, not letters
_SIGN_RISE = {FLAT: 190.0, DOUBLE_FLAT: 190.0, _BEAT: 110.0}
_SIGN_GAP = 30.0
_DRAWN = {
    "ø": (430.0, "M215 330a165 165 0 1 0 .1 0zM215 385a110 110 0 1 1 -.1 0z"
          "M40 290l305 405 45 -35 -305 -405z"),
    "°": (400.0, "M200 360a150 150 0 1 0 .1 0zM200 412a98 98 0 1 1 -.1 0z"),
    "△": (640.0, "M30 0H610L320 620zM120 55L320 485 520 55z"),
    " ": (250.0, ""),
}  # fmt: skip
"""Signs that look the same everywhere and stand in few fonts, drawn here: width, path."""

_LETTERS = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789/()+.,-−"
_MISSING = "\U0010fff0"  # the far end of private use: no font has it, so the serif shows its box
_PATH = re.compile(r'<path d="([^"]*)"/></symbol>')


@dataclass(frozen=True, slots=True)
class Glyph:
    """A glyph: its advance width in `EM` units and its SVG path, y up."""

    width: float
    path: str


@dataclass(frozen=True, slots=True)
class TextRun:
    """Text that has been set: its width in the picture's units, and SVG paths from x 0."""

    width: float
    svg: str


@lru_cache(maxsize=1)
def _music_boxes() -> dict[int, tuple[float, ...]]:
    """Left, bottom, width, height and advance of each sign, from the font's own table."""
    text = _music_font().with_suffix(".xml").read_text(encoding="utf-8")
    pattern = r'<g c="([0-9A-F]+)"' + "".join(rf' {k}="([-\d.]+)"' for k in _MEASURES)
    return {int(code, 16): tuple(map(float, sizes)) for code, *sizes in re.findall(pattern, text)}


_MEASURES = ("x", "y", "w", "h", "h-a-x")


def music_box(code: int) -> tuple[float, float, float, float]:
    """Left, bottom, width and height of a musical sign, y up.

    Raises
    ------
    ValueError
        When the music font has no such sign.
    """
    left, bottom, width, height, _ = _measures(code)
    return left, bottom, width, height


def _measures(code: int) -> tuple[float, ...]:
    if code not in _music_boxes():
        raise ValueError(f"the music font has no sign U+{code:04X}")
    return _music_boxes()[code]


def _music_font() -> Path:
    import verovio

    return Path(verovio.__file__).parent / "data" / "Leipzig"


@lru_cache(maxsize=64)
def music_glyph(code: int) -> Glyph:
    """A sign of the music font by its SMuFL code point; a staff space is 250 units."""
    width = _measures(code)[-1]
    text = (_music_font() / f"{code:04X}.xml").read_text(encoding="utf-8")
    drawing = re.search(r' d="([^"]*)"', text)
    return Glyph(width, drawing[1] if drawing else "")


@lru_cache(maxsize=512)
def letter_glyph(character: str) -> Glyph:
    """A letter of the serif.

    Raises
    ------
    ValueError
        When no font here has the character.
    """
    if character in _DRAWN:
        return Glyph(*_DRAWN[character])
    alphabet = _alphabet()
    glyph = alphabet.get(character) or _set_letters(character)[character]
    if glyph.path in ("", alphabet[_MISSING].path):
        raise ValueError(f"no font here has {character!r} (U+{ord(character):04X})")
    return glyph


@lru_cache(maxsize=1)
def _alphabet() -> dict[str, Glyph]:
    return _set_letters(_LETTERS + _MISSING)


def _set_letters(characters: str) -> dict[str, Glyph]:
    """Each character on a page of its own, read back as outline and width."""
    import typst

    quoted = ", ".join(json.dumps(character, ensure_ascii=False) for character in characters)
    source = _TYPST.replace("CHARACTERS", quoted).encode()
    pages = typst.compile(source, format="svg")
    widths = json.loads(typst.query(source, "<widths>", field="value", one=True, format="json"))
    svgs = pages if isinstance(pages, list) else [pages]
    paths = (_PATH.search(svg.decode()) for svg in svgs)
    return {
        character: Glyph(float(width), path[1] if path else "")
        for character, width, path in zip(characters, widths, paths, strict=True)
    }


_TYPST = """
#set page(width: auto, height: auto, margin: 0pt, fill: none)
#set text(font: "Libertinus Serif", size: 1000pt, weight: "semibold", kerning: false,
  ligatures: false, top-edge: "baseline", bottom-edge: "baseline")
#let characters = (CHARACTERS,)
#context [#metadata(characters.map(c => measure(c).width.pt())) <widths>]
#for c in characters { pagebreak(weak: true); c }
"""


def text_run(text: str, size: float, *, x: float = 0.0, y: float = 0.0) -> TextRun:
    """Text set in one line with its baseline at ``y``.

    Parameters
    ----------
    text : str
        Accidentals and chord signs included.
    size : float
        The em, in the picture's units.
    """
    paths = "".join(
        glyph_path(glyph, x + place * size, y - rise * size, scale * size / EM)
        for glyph, place, rise, scale in placed_glyphs(text)
    )
    return TextRun(text_width(text, size), paths)


@lru_cache(maxsize=2048)
def placed_glyphs(text: str) -> tuple[tuple[Glyph, float, float, float], ...]:
    """The glyphs of a line of text, each with its place, its rise and its scale, in ems."""
    place = 0.0
    glyphs = []
    for character in text:
        if character in _SIGNS:
            code = _SIGNS[character]
            sign = music_glyph(code)
            rise = _SIGN_RISE.get(code, 320.0) / EM
            glyphs.append((sign, place + _SIGN_GAP / EM, rise, _SIGN_SCALE))
            place += (sign.width * _SIGN_SCALE + 2 * _SIGN_GAP) / EM
        else:
            letter = letter_glyph(character)
            glyphs.append((letter, place, 0.0, 1.0))
            place += letter.width / EM
    return tuple(glyphs)


def glyph_path(glyph: Glyph, x: float, y: float, scale: float) -> str:
    """A glyph as an SVG path with its origin at (x, y)."""
    if not glyph.path:
        return ""
    return (
        f'<path transform="translate({x:.1f} {y:.1f}) scale({scale:.4f} {-scale:.4f})" '
        f'd="{glyph.path}"/>'
    )


def text_width(text: str, size: float) -> float:
    """Width of `text_run` without drawing it."""
    if not text:
        return 0.0
    glyph, place, _, scale = placed_glyphs(text)[-1]
    gap = _SIGN_GAP / EM if scale != 1.0 else 0.0
    return (place + glyph.width * scale / EM + gap) * size


def printable(text: str) -> str:
    """The text with a space for control characters and halves of pairs, which XML has not."""
    return "".join(character if character.isprintable() else " " for character in text)


def settable(text: str) -> str:
    """The text as it can be set: `printable`, with ``?`` for what no font here has."""
    plain = printable(text)
    return plain.translate(dict.fromkeys(map(ord, missing_glyphs(dict.fromkeys(plain))), "?"))


def missing_glyphs(characters: Iterable[str]) -> tuple[str, ...]:
    """Those characters that no font here has."""
    missing = []
    for character in characters:
        try:
            text_run(character, EM)
        except ValueError:
            missing.append(character)
    return tuple(missing)
