"""How does a drawn page become a file? SVG pages as one PDF, or as a PNG picture.

Sources: ISO 216 (A4), ISO 14289-1 (PDF/UA-1) and Portable Network Graphics, both through
typst.
"""

from __future__ import annotations

from collections.abc import Sequence

from halfstep.render.glyphs import printable

DOTS_AN_INCH = 200


def pages_pdf(svgs: Sequence[str], *, title: str, description: str) -> bytes:
    """Pages of A4 as a tagged PDF.

    Parameters
    ----------
    svgs : sequence of str
        One for each page.
    title, description : str
        What a screen reader says.
    """
    import typst

    inputs = {f"svg-{number}": svg for number, svg in enumerate(svgs)}
    inputs |= {
        "title": printable(title) or "Page",
        "alt": printable(description) or "Page",
        "count": str(len(svgs)),
    }
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
#for number in range(int(sys.inputs.count)) {
  let svg = bytes(sys.inputs.at("svg-" + str(number)))
  image(svg, format: "svg", width: 210mm, alt: sys.inputs.alt)
}
"""
_PNG = """
#set page(width: 210mm, height: auto, margin: 0mm)
#image(bytes(sys.inputs.svg), format: "svg", width: 210mm)
"""
