"""How does a page of text become a file? Data set by a template, as a tagged PDF.

Every template begins with `paper.typ`: the sheet, the faces, and what all pages print alike.

Conventions
-----------
- Texts arrive finished and are printed as they stand; nothing in them is markup.
- Lengths are millimetres. The same data give the same bytes: no date, no random names.
- Fonts are those inside typst. Only a text they cannot print is set again with the
  fonts of the machine, and a sign that none of them holds is printed as ``?``.

Sources: ISO 216 (A4) and ANSI/ASME Y14.1 (letter) for the paper; ISO 14289-1 (PDF/UA-1)
for the tags, which also forbids a glyph that cannot be shown.
"""

from __future__ import annotations

import json
import re
from dataclasses import KW_ONLY, dataclass
from functools import lru_cache
from importlib.resources import files
from threading import Lock
from typing import Any, Literal

from halfstep.render.score_pictures import Picture

PaperName = Literal["a4", "letter"]


@dataclass(frozen=True, slots=True)
class Paper:
    """A sheet and its margins, in millimetres."""

    width_mm: float
    height_mm: float
    _: KW_ONLY
    side_mm: float = 16.0
    top_mm: float = 12.0
    bottom_mm: float = 15.0

    @property
    def text_width_mm(self) -> float:
        """From margin to margin."""
        return self.width_mm - 2 * self.side_mm

    @property
    def text_height_mm(self) -> float:
        """From margin to margin."""
        return self.height_mm - self.top_mm - self.bottom_mm


PAPERS: dict[PaperName, Paper] = {"a4": Paper(210.0, 297.0), "letter": Paper(215.9, 279.4)}


def picture_data(picture: Picture, alt: str) -> dict[str, Any]:
    """A picture as a template prints it, and what a screen reader says for it."""
    return {"svg": picture.svg, "width_mm": picture.width_mm, "alt": alt}


def page_count(pdf: bytes) -> int:
    """The pages of a file that the typesetter wrote, whose page tree is plain text."""
    return len(_PAGE.findall(pdf))


def typeset(template: str, page: dict[str, Any]) -> bytes:
    """A page as a tagged PDF (PDF/UA-1).

    Parameters
    ----------
    template : str
        The name of a template of this package.
    page : dict
        What it prints, with ``title``, ``player`` and ``paper`` for all of them.
    """
    page = _translated(page, _CONTROLS)
    try:
        return _typeset(template, page, system_fonts=False)
    except _SignsMissing:
        return _typeset_with_any_font(template, page)


_Table = dict[int, str]

_CONTROLS: _Table = {
    **dict.fromkeys((*range(0x20), *range(0x7F, 0xA0)), " "),
    **dict.fromkeys(range(0xD800, 0xE000), "?"),
}
"""Characters that are no text: control codes, and halves of surrogate pairs."""


def printable_text(text: str) -> str:
    """A text without what cannot be typeset."""
    return text.translate(_CONTROLS)


_PAGE = re.compile(rb"/Type\s*/Page\b")
_UNSHOWN = re.compile(r'the text `"(.+?)"` could not be displayed')
_ESCAPED = re.compile(r"\\u\{([0-9a-f]+)\}")
_ONE_AT_A_TIME = Lock()


class _SignsMissing(Exception):
    """No font at hand can print these."""

    def __init__(self, signs: str) -> None:
        self.signs = signs
        super().__init__(signs)


def _typeset_with_any_font(template: str, page: Any) -> bytes:
    """The pages with the machine's fonts, and ``?`` for what even they lack."""
    try:
        return _typeset(template, page, system_fonts=True)
    except _SignsMissing as missing:
        unknown = dict.fromkeys(map(ord, missing.signs), "?")
        return _typeset(template, _translated(page, unknown), system_fonts=True)


def _typeset(template: str, page: Any, *, system_fonts: bool) -> bytes:
    import typst

    inputs = {"page": json.dumps(page, ensure_ascii=False)}
    try:
        with _ONE_AT_A_TIME:  # a compiler serves one thread at a time
            pdf = _compiler(system_fonts).compile(
                _source(template), format="pdf", sys_inputs=inputs, pdf_standards="ua-1"
            )
    except typst.TypstError as error:
        signs = _unshown_signs(error.diagnostic)
        if not signs:
            raise
        raise _SignsMissing(signs) from error
    return bytes(pdf)


def _unshown_signs(diagnostic: str) -> str:
    """The characters a diagnostic says have no glyph."""
    signs = "".join(_UNSHOWN.findall(diagnostic))
    return _ESCAPED.sub(lambda escaped: chr(int(escaped[1], 16)), signs)


def _translated(value: Any, table: _Table) -> Any:
    """Page data with every text in it translated."""
    if isinstance(value, str):
        return value.translate(table)
    if isinstance(value, dict):
        return {key: _translated(inner, table) for key, inner in value.items()}
    if isinstance(value, list):
        return [_translated(inner, table) for inner in value]
    return value


@lru_cache(maxsize=2)
def _compiler(system_fonts: bool) -> Any:
    """A compiler that keeps its fonts, and what it has laid out, between pages."""
    import typst

    fonts = typst.Fonts(include_system_fonts=system_fonts)
    return typst.Compiler(font_paths=fonts, ignore_system_fonts=not system_fonts)


@lru_cache(maxsize=4)
def _source(template: str) -> bytes:
    """A template behind what all of them begin with."""
    folder = files("halfstep.render")
    return b"".join(folder.joinpath(name).read_bytes() for name in ("paper.typ", template))
