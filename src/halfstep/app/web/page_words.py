"""In which words does a page speak? English stands in the code; a language has its own for them.

A text is asked for by its English, as GNU gettext has it: ``gettext`` and ``ngettext`` for one that
is shown, ``noted`` for one that stands in a table and is asked for later. A text of several of
something has one form for each number that its language tells apart. What is put into a text keeps
its own direction: in any other language it stands between isolates (Unicode, UAX 9, 2.4.2).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, field

_FIRST_STRONG_ISOLATE, _POP_ISOLATE = "\u2068", "\u2069"


def _english_form(number: int) -> int:
    return int(number != 1)


@dataclass(frozen=True, slots=True)
class PageLanguage:
    """A language of pages.

    Attributes
    ----------
    code : str
        Its tag (BCP 47), ``pt-BR``.
    name : str
        As it calls itself.
    direction : str
        ``ltr`` or ``rtl``, as HTML has it.
    texts : mapping of str to tuple of str
        By the English: the text in each of its forms.
    form_of : callable
        Which form a number takes, from 0.
    """

    code: str
    name: str = ""
    direction: str = "ltr"
    texts: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    form_of: Callable[[int], int] = _english_form


ENGLISH = PageLanguage("en", "English")

_spoken: ContextVar[PageLanguage] = ContextVar("spoken", default=ENGLISH)


def spoken() -> PageLanguage:
    """The language of the page that is made just now."""
    return _spoken.get()


@contextmanager
def speaking(language: PageLanguage) -> Iterator[None]:
    """Have pages speak a language, in this thread."""
    before = _spoken.set(language)
    try:
        yield
    finally:
        _spoken.reset(before)


def noted(text: str) -> str:
    """A text of a table, which is asked for where it is shown; as it is."""
    return text


def gettext(text: str, /, **values: object) -> str:
    """A text in the language of the page.

    >>> gettext("for %(day)s", day="Sunday")
    'for Sunday'
    """
    return filled(in_words_of_page(text), values)


def ngettext(one: str, many: str, number: int, /, **values: object) -> str:
    """A text of so many of something, which stand in it as ``%(num)s``.

    >>> ngettext("%(num)s player", "%(num)s players", 2)
    '2 players'
    """
    return filled(in_words_of_page(one, many, number), {"num": number, **values})


def in_words_of_page(one: str, many: str = "", number: int = 1) -> str:
    """A text in the language of the page, before anything is put into it."""
    language = _spoken.get()
    forms = language.texts.get(one)
    if forms is None:
        return many if many and _english_form(number) else one
    return forms[language.form_of(number)] if many else forms[0]


def filled(text: str, values: Mapping[str, object]) -> str:
    """A text with what belongs into it; ``%%`` stands for a per cent sign."""
    return text % {name: isolated(value) for name, value in values.items()}


def isolated(value: object) -> object:
    """What is put into a text, so that it leaves the text around it in order; numbers do anyway."""
    if _spoken.get() is ENGLISH or not isinstance(value, str):
        return value
    text = f"{_FIRST_STRONG_ISOLATE}{value}{_POP_ISOLATE}"
    return type(value)(text) if hasattr(value, "__html__") else text
