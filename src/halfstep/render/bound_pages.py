"""How do several handouts become one to print? Their pages as they are, each with a name.

Before several handouts stands a page that says where each begins, as the file's own outline does.
What goes around the pages is typeset by itself, with an empty page for each of theirs; then the
pages are laid under it, and what their tags say is taken into the tags of the book. What is the
same stands in the file once, and the same handouts give the same bytes.

Conventions
-----------
- A handout is a section of the book, behind its name as a heading; what stands over its other
  pages is a running head, which is not read aloud.
- Handouts are files of the typesetter: tagged, with no link or form on their pages.

Sources: ISO 32000-1, 7.8 (content streams), 8.10 (form objects) and 14.7 (structure, parent tree);
ISO 14289-1 (PDF/UA-1) for what is tagged and what is not.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from io import BytesIO
from typing import Any

from halfstep.render.typesetting import Paper, printable_text, typeset

_NAME = "/BookHead"
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
    """Handouts as one tagged file (PDF/UA-1)."""
    import pikepdf

    opened = {pdf: pikepdf.open(BytesIO(pdf)) for pdf in {part.pdf: None for part in parts}}
    book = pikepdf.open(BytesIO(_around(parts, opened, title)))
    binding = _Binding(book, sum(len(opened[part.pdf].pages) for part in parts))
    for part in parts:
        binding.add(part.heading, opened[part.pdf])
    binding.end()
    with book.open_outline() as outline:  # names as they are, whatever the fonts have
        for item, part in zip(outline.root, parts, strict=True):
            item.title = printable_text(part.heading)
    file = BytesIO()
    book.save(file, deterministic_id=True)
    return file.getvalue()


def _around(parts: Sequence[BoundPart], opened: dict[bytes, Any], title: str) -> bytes:
    """What stands before the pages and over them."""
    sizes = [[_size(page) for page in opened[part.pdf].pages] for part in parts]
    width, height = sizes[0][0]  # the contents have the size of the first page
    rows = [
        {"heading": part.heading, "detail": part.detail, "sizes": own}
        for part, own in zip(parts, sizes, strict=True)
    ]
    paper = asdict(Paper(width * _POINT_MM, height * _POINT_MM))
    page = {"title": title, "player": "", "paper": paper, "parts": rows}
    return typeset("bound.typ", page)


def _size(page: Any) -> tuple[float, float]:
    left, bottom, right, top = map(float, page.mediabox)
    return right - left, top - bottom


class _Binding:
    """A book whose empty pages are filled in order.

    Parameters
    ----------
    book : pikepdf.Pdf
        What goes around the pages.
    empty : int
        How many pages are to be filled; they are the last ones.
    """

    def __init__(self, book: Any, empty: int) -> None:
        self._book = book
        self._root = book.Root.StructTreeRoot
        (self._document,) = self._root.K
        self._pages = list(book.pages)[len(book.pages) - empty :]
        self._at = 0
        filled = {page.obj.objgen for page in self._pages}
        self._kids = [kid for kid in self._document.K if _first_page(kid) not in filled]
        keys = {int(page.StructParents) for page in self._pages if "/StructParents" in page.obj}
        self._parents = {
            key: value for key, value in _pairs(self._root.ParentTree) if key not in keys
        }
        self._next = max((*self._parents, *keys), default=-1) + 1

    def add(self, name: str, handout: Any) -> None:
        """Fill the next pages with those of a handout."""
        root = handout.Root.StructTreeRoot
        pages = self._pages[self._at : self._at + len(handout.pages)]
        self._at += len(pages)
        own = {page.obj.objgen: filled for page, filled in zip(handout.pages, pages, strict=True)}
        section = self._element("/Sect", self._document)
        heading = self._element("/H1", section)
        heading.T = heading.ActualText = printable_text(name)
        copies = _Copies(self._book, {place: page.obj for place, page in own.items()})
        kids = [copies.element(kid, section) for top in root.K for kid in _kids(top)]
        section.K = self._book.make_indirect([heading, *kids])
        self._kids.append(section)
        tagged = dict(_pairs(root.ParentTree))
        for number, page in enumerate(handout.pages):
            filled = own[page.obj.objgen]
            parents = [copies.made.get(e.objgen) for e in tagged[int(page.StructParents)]]
            if number == 0:
                heading.Pg, heading.K = filled.obj, len(parents)
            self._fill(filled, handout, page, None if number else len(parents))
            self._tag(filled, [*parents, heading] if number == 0 else parents)

    def end(self) -> None:
        """Enter what has been added in the tags of the book."""
        self._document.K = self._book.make_indirect(self._kids)
        numbers = [item for key in sorted(self._parents) for item in (key, self._parents[key])]
        self._root.ParentTree = self._book.make_indirect({"/Nums": numbers})
        self._root.ParentTreeNextKey = self._next

    def _element(self, kind: str, parent: Any) -> Any:
        import pikepdf

        return self._book.make_indirect(
            pikepdf.Dictionary(Type=pikepdf.Name.StructElem, S=pikepdf.Name(kind), P=parent)
        )

    def _tag(self, page: Any, parents: list[Any]) -> None:
        page.obj.StructParents = self._next
        self._parents[self._next] = self._book.make_indirect(parents)
        self._next += 1

    def _fill(self, empty: Any, handout: Any, page: Any, mark: int | None) -> None:
        """Lay a page under what stands on an empty one, which is one mark, or not read at all."""
        import pikepdf

        head = self._head(empty)
        resources = pikepdf.Dictionary(
            self._book.copy_foreign(_indirect(handout, page, "/Resources"))
        )
        drawings = dict(resources.XObject.items()) if "/XObject" in resources else {}
        drawings[_NAME] = head
        resources.XObject = pikepdf.Dictionary(drawings)
        opening = "/Artifact BMC" if mark is None else f"/H1 <</MCID {mark}>> BDC"
        before = self._book.make_stream(b"q\n")
        behind = self._book.make_stream(f"\nQ\n{opening}\n{_NAME} Do\nEMC\n".encode())
        empty.obj.Resources = resources
        empty.obj.Contents = pikepdf.Array(
            [before, self._book.copy_foreign(_indirect(handout, page, "/Contents")), behind]
        )
        if "/Group" in page.obj:
            empty.obj.Group = self._book.copy_foreign(_indirect(handout, page, "/Group"))

    def _head(self, page: Any) -> Any:
        """What stands on an empty page as one drawing, without its own tags."""
        import pikepdf

        drawn = [
            one
            for one in pikepdf.parse_content_stream(page)
            if str(one.operator) not in {"BDC", "BMC", "EMC"}
        ]
        head = self._book.make_stream(pikepdf.unparse_content_stream(drawn))
        head.Type, head.Subtype = pikepdf.Name.XObject, pikepdf.Name.Form
        head.BBox, head.Resources = page.mediabox, page.obj.Resources
        return head


class _Copies:
    """The tags of a handout for once more in a book.

    Parameters
    ----------
    book : pikepdf.Pdf
    pages : dict
        The page of the book in the place of each page of the handout.
    """

    def __init__(self, book: Any, pages: dict[Any, Any]) -> None:
        self._book = book
        self._pages = pages
        self.made: dict[Any, Any] = {}

    def element(self, element: Any, parent: Any) -> Any:
        """A copy of an element and of all below it."""
        import pikepdf

        copy = self._book.make_indirect(pikepdf.Dictionary(P=parent))
        self.made[element.objgen] = copy
        for key, value in element.items():
            if key == "/Pg":
                copy[key] = self._pages[value.objgen]
            elif key == "/K":
                copy[key] = pikepdf.Array([self._kid(kid, copy) for kid in _kids(element)])
            elif key != "/P":
                copy[key] = self._value(value)
        return copy

    def _kid(self, kid: Any, parent: Any) -> Any:
        import pikepdf

        if not isinstance(kid, pikepdf.Dictionary):
            return kid  # a mark on the page
        if kid.get("/Type") != "/MCR":
            return self.element(kid, parent)
        place = {"/Pg": self._pages[kid.Pg.objgen]} if "/Pg" in kid else {}
        return pikepdf.Dictionary({"/Type": kid.Type, "/MCID": kid.MCID, **place})

    def _value(self, value: Any) -> Any:
        import pikepdf

        if isinstance(value, pikepdf.Object) and value.is_indirect:
            return self._book.copy_foreign(value)
        if isinstance(value, pikepdf.Dictionary):
            return pikepdf.Dictionary({key: self._value(own) for key, own in value.items()})
        return pikepdf.Array(map(self._value, value)) if isinstance(value, pikepdf.Array) else value


def _indirect(owner: Any, page: Any, key: str) -> Any:
    """Something of a page as an object of its own, which is copied once."""
    value = page.obj[key]
    if not value.is_indirect:
        page.obj[key] = owner.make_indirect(value)
    return page.obj[key]


def _kids(element: Any) -> list[Any]:
    import pikepdf

    kids = element.get("/K", [])
    return list(kids) if isinstance(kids, pikepdf.Array) else [kids]


def _first_page(element: Any) -> Any:
    """The page on which the first mark of an element stands."""
    import pikepdf

    if "/Pg" in element:
        return element.Pg.objgen
    below = (kid for kid in _kids(element) if isinstance(kid, pikepdf.Dictionary))
    return next((page for page in map(_first_page, below) if page), None)


def _pairs(tree: Any) -> Iterator[tuple[int, Any]]:
    """The keys of a number tree, and what belongs to each."""
    for kid in tree.get("/Kids", ()):
        yield from _pairs(kid)
    numbers = list(tree.get("/Nums", ()))
    yield from ((int(key), value) for key, value in zip(numbers[::2], numbers[1::2], strict=True))
