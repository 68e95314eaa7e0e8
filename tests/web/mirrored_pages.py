"""Pages in a language that nobody speaks: English in brackets, from right to left.

What stands outside of brackets on such a page is either data, or words that no language can have
its own for.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from pathlib import Path

from babel.messages.catalog import Catalog
from babel.messages.pofile import read_po, write_po
from playwright.sync_api import Page

from halfstep.app.web.page_languages import FILE, SHIPPED

CODE = "ar"
"""Written from right to left, with six forms for numbers: the tag alone is borrowed."""
_TAG = re.compile(r"(<code>.*?</code>|<[^>]*>)")

UNMARKED = """(known) => {
  const data = ".chord, .chord a, .old, .new, .bar-chords, .section, .ending, .fingerprint";
  const apart = "script, style, noscript, code, kbd, bdi, svg, textarea, template, [lang=en]";
  const words = (text) => {
    for (let before = ""; before !== text; ) [before, text] = [text, text.replace(/⟦[^⟦⟧]*⟧/g, "")];
    for (const one of known) text = text.replaceAll(one, "");
    return /[A-Za-z]{2,}/.test(text);
  };
  const found = [];
  const texts = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  for (let node; (node = texts.nextNode()); ) {
    const of = node.parentElement;
    if (!of.closest(apart) && !of.matches(data) && words(node.data)) found.push(node.data.trim());
  }
  const named = "[aria-label], [alt], [title], [placeholder], optgroup";
  for (const one of document.querySelectorAll(named))
    for (const name of ["aria-label", "alt", "title", "placeholder", "label"])
      if (!one.closest("[lang=en]") && words(one.getAttribute(name) ?? ""))
        found.push(`${name}: ${one.getAttribute(name)}`);
  return [...new Set(found)];
}"""

COVERED = """() => {
  const shown = [...document.querySelectorAll("main a, main button, main input, main select")]
    .filter((one) => one.checkVisibility({ visibilityProperty: true }));
  const boxes = shown.flatMap((one) => [...one.getClientRects()].map((box) => [one, box]))
    .filter(([, box]) => box.width > 2 && box.height > 2);
  const covers = (a, b) => Math.min(a.right, b.right) - Math.max(a.left, b.left) > 2
    && Math.min(a.bottom, b.bottom) - Math.max(a.top, b.top) > 2;
  const words = (one) => (one.textContent.trim() || one.id || one.name).slice(0, 40);
  const found = [];
  for (const [place, [one, box]] of boxes.entries())
    for (const [other, under] of boxes.slice(place + 1))
      if (!one.contains(other) && !other.contains(one) && covers(box, under)
        && !one.closest(".at-hand") && !other.closest(".at-hand"))
        found.push(`${words(one)} / ${words(other)}`);
  return found;
}"""


def speak_in_brackets(folder: Path) -> None:
    """Put the language into a data folder."""
    with (SHIPPED / "pages.pot").open("rb") as file:
        texts = read_po(file)
    own = Catalog(locale=CODE)
    for message in texts:
        if message.id:
            forms = [message.id] if isinstance(message.id, str) else list(message.id)
            many = [forms[-1]] * own.num_plurals
            own.add(message.id, bracketed(forms[0]) if len(forms) == 1 else [*map(bracketed, many)])
    path = folder / "languages" / CODE / FILE
    path.parent.mkdir(parents=True)
    with path.open("wb") as file:
        write_po(file, own)


def bracketed(text: str) -> str:
    """A text in brackets; tags, and code, stand outside."""
    pieces = _TAG.split(text)
    return "".join(
        f"⟦{piece}⟧" if piece.strip() and not piece.startswith("<") else piece for piece in pieces
    )


def unmarked(page: Page, known: Iterable[str]) -> Sequence[str]:
    """What stands on a page in English and is not marked so, but for data that is known."""
    found: list[str] = page.evaluate(UNMARKED, sorted(known, key=len, reverse=True))
    return found


def covered(page: Page) -> Sequence[str]:
    """Controls of a page that lie over one another."""
    found: list[str] = page.evaluate(COVERED)
    return found
