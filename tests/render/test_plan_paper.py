"""Does a day stand on one page, however much there is to say of it?"""

from __future__ import annotations

import pypdfium2
import pytest

from halfstep.render.plan_paper import (
    PaperItem,
    PaperRest,
    PlanPaper,
    WeekDay,
    WeekItem,
    WeekPaper,
    plan_pdf,
    week_pdf,
)
from halfstep.render.print_setting import print_setting
from halfstep.render.typesetting import PaperName

LONG = "The change from E♭7 to A♭maj7 in bar 12 was late twice, and the one after it came early. "


def day_of_items(count: int, repeats: int, *, ticks: tuple[str, ...] = ("clean",)) -> PlanPaper:
    """A day with so many long items, with a rest after each."""
    rows = (("goal", LONG), ("why", LONG * repeats), ("play", LONG), ("stop", LONG))
    entries: list[PaperItem | PaperRest] = []
    for number in range(1, count + 1):
        facts = "Last One Turns Off the Lights · C major"
        entries.append(
            PaperItem(
                number=number,
                title="A whole form that wanders: arpeggio in rhythm",
                role="whole chorus",
                facts=facts,
                minutes="12½ minutes",
                rows=rows,
            )
        )
        entries.append(PaperRest("Rest.", "5 minutes"))
    return PlanPaper(
        title="Practice",
        heading="Wednesday, 30 September 2026",
        player="Wilhelmina-Josephine the Second of the Evening Class · Alto saxophone",
        facts="60 minutes",
        manner=LONG,
        entries=tuple(entries),
        ticks=ticks,
        care=(LONG, LONG),
    )


@pytest.mark.parametrize("sheet", ["a4", "letter"])
@pytest.mark.parametrize("repeats", [1, 2, 4])
def test_five_long_items_stand_on_one_page(sheet: PaperName, repeats: int) -> None:
    pdf = pypdfium2.PdfDocument(plan_pdf(day_of_items(5, repeats), sheet=sheet))
    assert len(pdf) == 1
    text = pdf[0].get_textpage().get_text_range()
    assert text.count("12½ minutes") == 5
    assert "the Evening Class" in text


def week_of(days: int, count: int, *, manner: str = LONG) -> WeekPaper:
    """A week of so many days with so many items."""
    day = day_of_items(1, 1)
    items = tuple(
        WeekItem(
            number=number,
            title="A whole form that wanders: arpeggio in rhythm",
            role="whole chorus",
            facts="Last One Turns Off the Lights · C major",
            minutes="12½ minutes",
            goal="♩. = 132",
        )
        for number in range(1, count + 1)
    )
    return WeekPaper(
        title=day.title,
        heading="28 September to 4 October",
        player=day.player,
        facts=day.facts,
        manner=manner,
        lines=(LONG, "From home"),
        days=tuple(WeekDay("Wednesday", "30 September", items) for _ in range(days)),
        note=LONG,
        care=day.care,
    )


@pytest.mark.slow
@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_seven_days_of_five_items_stand_on_one_page(sheet: PaperName) -> None:
    pdf = pypdfium2.PdfDocument(week_pdf(week_of(7, 5), sheet=sheet))
    assert len(pdf) == 1
    text = pdf[0].get_textpage().get_text_range()
    assert text.count("whole chorus") == text.count("♩. = 132") == 35
    assert "From home" in text


@pytest.mark.parametrize(("days", "count", "pages"), [(5, 4, 2), (7, 5, 3)])
def test_in_large_print_a_week_has_two_lines_an_item(days: int, count: int, pages: int) -> None:
    """Two lines of 16 points for each of 35 items are 420 mm: one page has 250."""
    paper = week_of(days, count, manner="Tick a box.")
    pdf = pypdfium2.PdfDocument(week_pdf(paper, setting=print_setting("large")))
    assert len(pdf) == pages
    text = "".join(page.get_textpage().get_text_range() for page in pdf)
    assert text.count("♩. = 132") == text.count("12½ minutes") == days * count


def test_a_day_without_boxes_to_tick_has_none() -> None:
    with_box, without = (
        pypdfium2.PdfDocument(plan_pdf(day_of_items(1, 1, ticks=ticks)))[0]
        .get_textpage()
        .get_text_range()
        for ticks in (("clean",), ())
    )
    assert "clean" in with_box
    assert "clean" not in without
