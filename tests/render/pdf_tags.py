"""The tags of a PDF: what a screen reader is told in the place of its pictures."""

from __future__ import annotations

import ctypes

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
