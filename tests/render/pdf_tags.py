"""The tags of a PDF: what a screen reader is told in the place of its pictures."""

from __future__ import annotations

import ctypes
from collections.abc import Iterator
from io import BytesIO

import pikepdf
import pypdfium2
import pypdfium2.raw as pdfium_c


def alts_of(pdf: bytes) -> list[list[str]]:
    """The descriptions of the pictures on each page, from the tags of the document."""
    document = pypdfium2.PdfDocument(pdf)
    pages = []
    for page in document:
        tree = pdfium_c.FPDF_StructTree_GetForPage(page.raw)
        count = pdfium_c.FPDF_StructTree_CountChildren(tree)
        roots = [pdfium_c.FPDF_StructTree_GetChildAtIndex(tree, n) for n in range(count)]
        pages.append([alt for root in roots for alt in _alts_below(root)])
        pdfium_c.FPDF_StructTree_Close(tree)
    document.close()
    return pages


def _alts_below(element) -> list[str]:
    if not element:
        return []
    buffer = ctypes.create_string_buffer(16000)
    length = pdfium_c.FPDF_StructElement_GetAltText(element, buffer, 16000)
    alts = [buffer.raw[:length].decode("utf-16-le").rstrip("\0")] if length else []
    for n in range(pdfium_c.FPDF_StructElement_CountChildren(element)):
        alts += _alts_below(pdfium_c.FPDF_StructElement_GetChildAtIndex(element, n))
    return alts


def kinds_of(pdf: bytes) -> list[tuple[str, str]]:
    """What each tag of a document is and what it is called, in the order in which it is read."""
    document = pikepdf.open(BytesIO(pdf))
    return list(_kinds_below(document.Root.StructTreeRoot))


def _kinds_below(element) -> Iterator[tuple[str, str]]:
    kids = element.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield str(kid.S).removeprefix("/"), str(kid.get("/T", ""))
            yield from _kinds_below(kid)
