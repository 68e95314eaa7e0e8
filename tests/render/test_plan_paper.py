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


@pytest.mark.parametrize("sheet", ["a4", "letter"])
def test_seven_days_of_five_items_stand_on_one_page(sheet: PaperName) -> None:
    day = day_of_items(5, 1)
    items = tuple(
        WeekItem(
            number=number,
            title="A whole form that wanders: arpeggio in rhythm",
            role="whole chorus",
            facts="Last One Turns Off the Lights · C major",
            minutes="12½ minutes",
            goal="♩. = 132",
        )
        for number in range(1, 6)
    )
    week = WeekPaper(
        title=day.title,
        heading="28 September to 4 October",
        player=day.player,
        facts=day.facts,
        manner=LONG,
        lines=(LONG, "From home"),
        days=tuple(WeekDay("Wednesday", "30 September", items) for _ in range(7)),
        note=LONG,
        care=day.care,
    )
    pdf = pypdfium2.PdfDocument(week_pdf(week, sheet=sheet))
    assert len(pdf) == 1
    text = pdf[0].get_textpage().get_text_range()
    assert text.count("whole chorus") == text.count("♩. = 132") == 35
    assert "From home" in text


def test_a_day_without_boxes_to_tick_has_none() -> None:
    with_box, without = (
        pypdfium2.PdfDocument(plan_pdf(day_of_items(1, 1, ticks=ticks)))[0]
        .get_textpage()
        .get_text_range()
        for ticks in (("clean",), ())
    )
    assert "clean" in with_box
    assert "clean" not in without
