"""How do several handouts become one to print? Their pages as they are, each with a name.

Each page is placed whole on a page of its own size; what is the same stands in the file once.
Before several handouts stands a page that says where each begins, as the file's own outline does.
Such a file is for the printer: each page is a picture to a screen reader, with what the handout
says of its own headings and pictures for words. The same handouts give the same bytes.
"""

from __future__ import annotations

import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from hashlib import sha256
from importlib.resources import files
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from halfstep.render.pdf_words import page_words
from halfstep.render.typesetting import PAPERS, printable_text

_TEMPLATE = "bound.typ"
_SHEET = re.compile(rb"/MediaBox\s*\[\s*0\s+0\s+([\d.]+)\s+([\d.]+)\s*\]")
_POINT_MM = 25.4 / 72.0


@dataclass(frozen=True, slots=True)
class BoundPart:
    """A handout and whose it is.

    Attributes
    ----------
    heading : str
        Over each of its pages.
    pdf : bytes
        As the typesetter wrote it.
    detail : str
        What the contents say of it besides, such as the instrument.
    """

    heading: str
    pdf: bytes
    detail: str = ""


def bound_pdf(parts: Sequence[BoundPart], *, title: str) -> bytes:
    """Handouts as one tagged file (PDF 1.7)."""
    import typst

    with TemporaryDirectory(prefix="halfstep-") as name:
        folder = Path(name)
        rows = [_placed(part, folder) for part in parts]
        data = json.dumps({"title": printable_text(title), "parts": rows}, ensure_ascii=False)
        template = folder / _TEMPLATE
        template.write_bytes(_source())
        pdf = typst.compile(template, root=folder, format="pdf", sys_inputs={"page": data})
    return bytes(pdf)


def _placed(part: BoundPart, folder: Path) -> dict[str, Any]:
    """What the template is told of a part, whose pages lie in the folder."""
    file = f"{sha256(part.pdf).hexdigest()}.pdf"
    (folder / file).write_bytes(part.pdf)
    width_mm, height_mm = _sheet_mm(part.pdf)
    heading = printable_text(part.heading)
    said = enumerate(page_words(part.pdf), 1)
    return {
        "heading": heading,
        "detail": printable_text(part.detail),
        "file": file,
        "alts": [f"{heading}, page {number}. {words}".strip() for number, words in said],
        "width_mm": width_mm,
        "height_mm": height_mm,
    }


def _sheet_mm(pdf: bytes) -> tuple[float, float]:
    """The size of a file's first sheet, A4 where it does not say."""
    if match := _SHEET.search(pdf):
        return float(match[1]) * _POINT_MM, float(match[2]) * _POINT_MM
    return PAPERS["a4"].width_mm, PAPERS["a4"].height_mm


@lru_cache(maxsize=1)
def _source() -> bytes:
    return files("halfstep.render").joinpath(_TEMPLATE).read_bytes()
