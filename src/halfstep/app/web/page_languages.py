"""Which languages can pages speak, and which one is for whom?

A language is a folder with the file ``pages.po``, as GNU gettext has it; its name is the language's
tag (BCP 47). A text that it lacks stands in English; so does one whose places or tags are others
than in English, since that would break the page.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Mapping
from gettext import c2py
from pathlib import Path
from typing import TYPE_CHECKING

from halfstep.app.web.page_words import ENGLISH, PageLanguage
from halfstep.errors import ReadError

if TYPE_CHECKING:
    from babel.messages.catalog import Catalog, Message

FILE = "pages.po"
SHIPPED = Path(__file__).parent / "languages"
"""Languages that come with the program; the texts that they need stand in ``pages.pot``."""
_PLACE = re.compile(r"%\([a-z_]+\)s|%%")
_TAG = re.compile(r"<[^>]*>?|&[a-z0-9#]+;")
_MOST_ASKED = 20
"""Languages that are looked at of those that a browser asks for."""


def languages_in(*folders: Path) -> dict[str, PageLanguage]:
    """The languages in some folders, by their tags; those of a later folder come first.

    Raises
    ------
    ReadError
        When a file is damaged, or its folder is named as no language is.
    """
    files = (path for folder in folders for path in sorted(folder.glob(f"*/{FILE}")))
    languages = map(read_language, files)
    return {language.code.lower(): language for language in languages}


def read_language(path: Path) -> PageLanguage:
    """A language from its file.

    Raises
    ------
    ReadError
    """
    from babel.core import Locale, UnknownLocaleError
    from babel.messages.pofile import PoFileError, read_po

    code = path.parent.name
    try:
        locale = Locale.parse(code, sep="-")
    except (UnknownLocaleError, ValueError):
        raise ReadError(
            f"{path}: {code!r} is no language; name the folder like de or pt-BR"
        ) from None
    try:
        with path.open("rb") as file:
            catalog = read_po(file, abort_invalid=True)
        form_of = c2py(catalog.plural_expr)
    except PoFileError as error:
        place = f"{path} line {error.lineno + 1}"
        raise ReadError(
            f"{place}: this is no line of GNU gettext: {str(error.line).strip()[:60]!r}"
        ) from None
    except (ValueError, OSError) as error:
        raise ReadError(f"{path}: this is no file of GNU gettext: {error}") from None
    texts = dict(_texts(catalog, form_of))
    name = locale.get_display_name() or code
    return PageLanguage(code, name, locale.text_direction, texts, form_of)


def _texts(
    catalog: Catalog, form_of: Callable[[int], int]
) -> Iterator[tuple[str, tuple[str, ...]]]:
    """The texts that can be used: whole, certain, and with the places of the English ones."""
    most = max(map(form_of, range(200)))
    for message in catalog:
        english, *several = _forms(message.id)
        forms = _forms(message.string)
        is_whole = all(forms) and len(forms) > (most if several else 0)
        if english and is_whole and not message.fuzzy and _fits(message, forms):
            yield english, forms


def _forms(text: str | list[str] | tuple[str, ...] | None) -> tuple[str, ...]:
    return (text or "",) if isinstance(text, str | None) else tuple(text)


def _fits(message: Message, forms: tuple[str, ...]) -> bool:
    """True where a text can stand for the English one: the same tags, no other places."""
    english = _forms(message.id)
    places = {place for form in english for place in _PLACE.findall(form)} | {"%%"}
    tags = sorted(_TAG.findall(english[-1]))
    return all(
        places.issuperset(_PLACE.findall(form))
        and "%" not in _PLACE.sub("", form)
        and sorted(_TAG.findall(form)) == tags
        for form in forms
    )


def language_for(chosen: str, accepted: str, languages: Mapping[str, PageLanguage]) -> PageLanguage:
    """The language of pages for somebody: the school's, else the best of a browser's, else English.

    Parameters
    ----------
    chosen : str
        What the school has chosen, by its tag; empty for none.
    accepted : str
        What the browser asks for, as in ``Accept-Language`` (RFC 9110, 12.5.4).
    languages : mapping of str to PageLanguage
        What there is, by tags in small letters.
    """
    known = {"en": ENGLISH, **languages}
    tags = [chosen] if chosen else _asked_for(accepted)
    return next((known[tag] for one in tags for tag in _looked_up(one) if tag in known), ENGLISH)


def _looked_up(tag: str) -> Iterator[str]:
    """A tag, and then shorter and shorter (RFC 4647, 3.4)."""
    parts = tag.lower().split("-")
    while parts:
        yield "-".join(parts)
        parts = parts[: -2 if len(parts) > 2 and len(parts[-2]) == 1 else -1]


def _asked_for(header: str) -> list[str]:
    """The tags that a browser names, the best first; what it does not want is left out."""
    weighed = []
    for place, part in enumerate(header.split(",", _MOST_ASKED)[:_MOST_ASKED]):
        tag, _, weight = part.partition(";")
        quality = _quality(weight)
        if quality and tag.strip() and len(tag) < 36:
            weighed.append((-quality, place, tag.strip()))
    return [tag for *_, tag in sorted(weighed)]


def _quality(text: str) -> float:
    name, _, number = text.partition("=")
    try:
        return float(number) if name.strip() == "q" else 1.0
    except ValueError:
        return 0.0
