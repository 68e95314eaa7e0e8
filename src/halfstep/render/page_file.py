"""How does a drawn page become a file? SVG pages as one PDF, or as a PNG picture.

Sources: ISO 216 (A4), ISO 14289-1 (PDF/UA-1) and Portable Network Graphics, both through
typst.
"""

from __future__ import annotations

from collections.abc import Iterable

from halfstep.render.glyphs import printable

DOTS_AN_INCH = 200


def pages_pdf(pages: Iterable[Iterable[tuple[str, str]]], *, title: str) -> bytes:
    """Pages of A4 as a tagged PDF.

    Parameters
    ----------
    pages : iterable of iterables of (str, str)
        The layers of each page, one upon the other, in the order in which they are read: an SVG
        picture as large as the page, and what a screen reader says for it.
    title : str
    """
    import json

    import typst

    layers = [
        [{"svg": svg, "alt": printable(words) or "Page"} for svg, words in page] for page in pages
    ]
    inputs = {"title": printable(title) or "Page", "pages": json.dumps(layers)}
    data = typst.compile(
        _PDF.encode(),
        format="pdf",
        sys_inputs=inputs,
        pdf_standards="ua-1",
        ignore_system_fonts=True,
    )
    return bytes(data)


def png_bytes(svg: str) -> bytes:
    """A page as a PNG picture of `DOTS_AN_INCH`."""
    import typst

    data = typst.compile(
        _PNG.encode(),
        format="png",
        ppi=float(DOTS_AN_INCH),
        sys_inputs={"svg": svg},
        ignore_system_fonts=True,
    )
    return bytes(data)


_PDF = """
#set document(title: sys.inputs.title, date: none)
#set page(width: 210mm, height: 297mm, margin: 0mm)
#set text(lang: "en")
#for layers in json(bytes(sys.inputs.pages)) {
  page({
    for it in layers {
      place(top + left, image(bytes(it.svg), format: "svg", width: 210mm, alt: it.alt))
    }
  })
}
"""
_PNG = """
#set page(width: 210mm, height: auto, margin: 0mm)
#image(bytes(sys.inputs.svg), format: "svg", width: 210mm)
"""
