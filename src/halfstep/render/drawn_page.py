"""What becomes of a page that we draw: its file, and what should be said of it."""

from __future__ import annotations

from collections.abc import Iterator

from halfstep.render.glyphs import missing_glyphs
from halfstep.render.page_file import pages_pdf
from halfstep.render.vector_page import VectorPage

READABLE_MM = 1.7
"""The least size of text that is read with ease, as the em: nearly 5 points."""


def drawn_page(page: VectorPage, suffix: str, *, title: str, description: str) -> bytes:
    """A page as a file that ends in ``.svg`` or ``.pdf``.

    Parameters
    ----------
    page : VectorPage
    suffix : str
    title, description : str
        What a screen reader says.
    """
    if suffix == ".svg":
        return page.svg(title=title, description=description).encode()
    return pages_pdf([page.spoken(description, title=title)], title=title)


def drawing_notices(page: VectorPage, names: str, crowd: str) -> Iterator[str]:
    """Of signs that no font has, and of text that is hard to read.

    Parameters
    ----------
    page : VectorPage
    names : str
        What others have named, in which any sign may stand.
    crowd : str
        What makes text small: ``40 bars``.
    """
    if missing := "".join(missing_glyphs(dict.fromkeys(names))):
        yield f"no font here has {missing}; the map has ? in its place"
    if page.smallest_mm < READABLE_MM:
        yield (
            f"{crowd} on one page make text of {page.smallest_mm:.1f} mm, which is hard to read; "
            "enlarge the page"
        )
