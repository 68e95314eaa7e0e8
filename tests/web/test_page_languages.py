"""Do pages speak the language of a school or a reader, and English where there is no other word?"""

from __future__ import annotations

import runpy
from pathlib import Path

import pytest
from desks import new_desk

from halfstep.app.tasks.setting_tasks import choose_settings
from halfstep.app.web.page import date_words, day_words, english, time_words
from halfstep.app.web.page_languages import FILE, language_for, read_language
from halfstep.app.web.page_words import ENGLISH, PageLanguage, gettext, ngettext, speaking
from halfstep.errors import BriefError, ReadError

ROOT = Path(__file__).resolve().parents[2]
HEAD = """msgid ""
msgstr ""
"Content-Type: text/plain; charset=utf-8\\n"
"Plural-Forms: nplurals=3; plural=n%10==1 && n%100!=11 ? 0 : n%10>=2 && n%10<=4 && "
"(n%100<10 || n%100>=20) ? 1 : 2;\\n"

"""
"""With the forms of Croatian, as the manual of GNU gettext lists them ("Plural forms")."""


def language(folder: Path, body: str, code: str = "hr") -> Path:
    """The file of a language in a data folder."""
    path = folder / "languages" / code / FILE
    path.parent.mkdir(parents=True)
    path.write_text(HEAD + body, "utf-8")
    return path


def entry(english: str, *own: str) -> str:
    """A text with what stands for it."""
    if len(own) == 1:
        return f'msgid "{english}"\nmsgstr "{own[0]}"\n\n'
    one, many = english.split("|")
    forms = "".join(f'msgstr[{form}] "{text}"\n' for form, text in enumerate(own))
    return f'msgid "{one}"\nmsgid_plural "{many}"\n{forms}\n'


@pytest.mark.slow
def test_the_catalogue_holds_the_words_of_the_pages() -> None:
    assert runpy.run_path(str(ROOT / "scripts" / "words"))["main"](["--check"]) == 0


@pytest.mark.parametrize(
    ("chosen", "accepted", "code"),
    [
        ("", "", "en"),
        ("", "hr", "hr"),
        ("", "hr-BA,en;q=.5", "hr"),
        ("", "en-GB,hr;q=.9", "en"),
        ("", "hr;q=.2, pt-BR;q=.8", "pt-BR"),
        ("", "hr;q=0, en", "en"),
        ("", "xx, pt-BR-x-own", "pt-BR"),
        ("", "*;q=??,,;;,", "en"),
        ("pt-br", "hr", "pt-BR"),
        ("en", "hr", "en"),
        ("sv", "hr", "en"),
    ],
)
def test_the_school_says_the_language_else_the_browser(
    chosen: str, accepted: str, code: str
) -> None:
    """Ranges are looked up as in RFC 4647, 3.4; weights are those of RFC 9110, 12.4.2."""
    known = {one.lower(): PageLanguage(one) for one in ("hr", "pt-BR")}
    assert language_for(chosen, accepted, known).code == code


def test_a_text_has_a_form_for_each_number(tmp_path: Path) -> None:
    body = entry(
        "%(num)s player|%(num)s players", *(f"%(num)s {n}" for n in ("igrač", "igrača", "igrača."))
    )
    with speaking(read_language(language(tmp_path, body))):
        shown = [ngettext("%(num)s player", "%(num)s players", number) for number in (1, 3, 12, 21)]
    assert shown == ["1 igrač", "3 igrača", "12 igrača.", "21 igrač"]
    assert ngettext("%(num)s player", "%(num)s players", 21) == "21 players"


@pytest.mark.slow
def test_a_text_that_would_break_a_page_stands_in_english(tmp_path: Path) -> None:
    """One with a place that is not filled, a tag of its own or without one, or half a sign."""
    wrong = {
        "for %(day)s": "za %(dan)s",
        "Keep": "<b>Čuvaj</b>",
        "Open <a>it</a>": "Otvori",
        "Play": "50% sviraj",
        "Stop": "",
    }
    body = "".join(entry(text, own) for text, own in wrong.items())
    body += "#, fuzzy\n" + entry("Record", "Snimi") + entry("Desk", "Stol")
    with speaking(read_language(language(tmp_path, body))):
        assert gettext("for %(day)s", day="Sunday") == "for \u2068Sunday\u2069"
        assert [gettext(text) for text in ("Keep", "Open <a>it</a>", "Play", "Stop", "Record")] == [
            "Keep", "Open <a>it</a>", "Play", "Stop", "Record",
        ]  # fmt: skip
        assert gettext("Desk") == "Stol"


@pytest.mark.parametrize(
    ("code", "text", "line"),
    [
        (
            "hr",
            f"{HEAD}this is a letter",
            "line 7: this is no line of GNU gettext: 'this is a letter'",
        ),
        ("hr", HEAD.replace("nplurals=3", "nplurals=x"), "this is no file of GNU gettext"),
        ("klingon", HEAD, "'klingon' is no language; name the folder like de or pt-BR"),
    ],
)
def test_a_damaged_language_is_refused_in_a_line(
    tmp_path: Path, code: str, text: str, line: str
) -> None:
    path = language(tmp_path, "", code)
    path.write_text(text, "utf-8")
    with pytest.raises(ReadError, match=line):
        read_language(path)


def test_days_and_terms_are_written_as_the_language_has_them() -> None:
    """Names of days and months are those of the Unicode CLDR, which Babel brings."""
    from datetime import date, timedelta

    day = date(2026, 3, 4)
    assert (day_words(day), date_words(day)) == ("Wed 4 March", "4 March 2026")
    with speaking(PageLanguage("de")):
        assert (day_words(day), date_words(day)) == ("Mi., 4. März", "4. März 2026")
        assert time_words(timedelta(days=180)) == "180 days"
        assert english("a fault") == '<span lang="en" dir="ltr">a fault</span>'
    assert english("a fault") == "a fault"


@pytest.mark.slow
def test_pages_follow_the_school_and_the_browser(tmp_path: Path) -> None:
    with new_desk(tmp_path / "data") as desk:
        body = entry("Charts", 'Akordi \\"A\\"') + entry("That did not work", "Nije išlo")
        language(desk.school.folder, body, "he")
        visitor = desk.teacher()
        assert '<html lang="en" dir="ltr">' in visitor.get("/charts").text
        asked = {"accept-language": "he-IL, en;q=.5"}
        page = visitor.get("/charts", headers=asked).text
        assert '<html lang="he" dir="rtl">' in page
        assert "<h1>Akordi &#34;A&#34;</h1>" in page
        assert "Nije išlo" in visitor.get("/charts/99", headers=asked).text
        assert '<span lang="en" dir="ltr">' in visitor.get("/charts/99", headers=asked).text
        choose_settings(desk.school, {"language": "he"})
        assert '<html lang="he"' in visitor.get("/charts").text
        choose_settings(desk.school, {"language": "en"})
        assert '<html lang="en"' in visitor.get("/charts", headers=asked).text
        assert '<option value="en" selected>' in visitor.get("/settings", headers=asked).text
        with pytest.raises(BriefError, match="give the tag of a language, such as en or pt-BR"):
            choose_settings(desk.school, {"language": "the best"})
    assert gettext("Charts") == "Charts"
    assert ENGLISH.direction == "ltr"
