"""A chart is read from what was typed or sent, kept, changed, and given out to be played."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from pathlib import Path

from halfstep.data.chart_json import chart_data, read_chart_data
from halfstep.data.documents import json_text
from halfstep.errors import BriefError, ReadError
from halfstep.part.written_music import in_concert
from halfstep.progression.form import played
from halfstep.progression.load import load_sheet_file
from halfstep.progression.notations import NOTATIONS
from halfstep.progression.notations.text_reader import read_sheet_text
from halfstep.progression.notations.text_writer import text_losses, write_sheet_text
from halfstep.progression.set_scales import (
    SetScale,
    carried_scales,
    parse_scales,
    scales_text,
    with_scales,
)
from halfstep.progression.sheet import LeadSheet
from halfstep.progression.title import UNTITLED, one_line
from halfstep.school.database import School
from halfstep.school.kept_charts import KeptChart, add_chart, change_chart, find_chart

CHART_SUFFIXES = (*(suffix for n in NOTATIONS if n.read for suffix in n.suffixes), ".json")
"""How the files end that a chart is read from."""


@dataclass(frozen=True, slots=True)
class ChartContent:
    """What a chart holds before it is kept.

    Attributes
    ----------
    title : str
    text : str
    sheet : str
        As data, where the text cannot hold all of it.
    """

    title: str
    text: str
    sheet: str = ""


def typed_sheet_of(text: str) -> LeadSheet:
    """The sheet of a text that can be played.

    Raises
    ------
    ReadError
        When it is no chart, or its repeats make it too long.
    """
    sheet = read_sheet_text(text)
    played(sheet)
    return sheet


def typed_content(text: str, title: str = "") -> ChartContent:
    """What was typed, its title apart.

    Raises
    ------
    ReadError
        When it is no chart.
    """
    sheet = typed_sheet_of(text)
    return ChartContent(one_line(title) or sheet.title, _without_title(text))


_TITLE_LINE = re.compile(r"^[ \t]*title[ \t]*:.*(\n|\Z)", re.MULTILINE | re.IGNORECASE)


def _without_title(text: str) -> str:
    """The text without its line ``title:``, which stands beside it from now on."""
    return _TITLE_LINE.sub("", text, count=1)


def names_title(text: str) -> bool:
    """True where a text has a line ``title:`` of its own, which is not obeyed."""
    return _TITLE_LINE.search(text) is not None


def file_content(path: Path) -> ChartContent:
    """What a file holds; as data too, where a text cannot hold all of it.

    What its reader was not certain of stands in lines of their own at the head of the text.

    Raises
    ------
    ReadError
        When it cannot be read as a chart.
    """
    if path.suffix.lower() == ".json":
        sheet = read_chart_data(path)
    else:
        sheet = in_concert(load_sheet_file(path))
    played(sheet)
    notes = "".join(f"# {one_line(notice)}\n" for notice in sheet.notices)
    text = notes + _without_title(write_sheet_text(sheet))
    data = json_text(chart_data(sheet)) if text_losses(sheet) else ""
    return ChartContent(sheet.title, text, data)


def keep_chart(school: School, content: ChartContent, *, of: int | None) -> int:
    """The number under which a chart is kept from now on.

    Parameters
    ----------
    of : int or None
        The number of the teacher whose it is, where several teach.
    """
    with school.writing() as connection:
        return add_chart(
            connection,
            title=content.title,
            text=content.text,
            sheet=content.sheet,
            account=of,
        )


def plain_sheet(kept: KeptChart) -> LeadSheet:
    """A chart that is kept, without the scales that were set over it.

    Raises
    ------
    ReadError
        When this release cannot read it.
    """
    sheet = read_chart_data(kept.sheet) if kept.sheet else read_sheet_text(kept.text)
    return replace(sheet, title=kept.title)


def kept_sheet(kept: KeptChart) -> LeadSheet:
    """A chart that is kept, with the scales that were set: what lines and lessons are made of.

    Raises
    ------
    ReadError
        When this release cannot read it.
    """
    return with_scales(plain_sheet(kept), parse_scales(kept.scales))


def losses_of(kept: KeptChart) -> tuple[str, ...]:
    """What the text of a chart that came as a file cannot hold of it, in words."""
    return text_losses(plain_sheet(kept)) if kept.sheet else ()


def changed_chart(school: School, number: int, *, title: str, text: str) -> KeptChart:
    """Keep a chart with another title or text; scales that were set stay over their chords.

    The text of a chart that came as a file stays as it is.

    Raises
    ------
    ReadError
        When the text is no chart; nothing is changed then.
    NoSuchThing
    """
    with school.reading() as connection:
        kept = find_chart(connection, number)
    new = replace(kept, title=one_line(title) or UNTITLED)
    if not kept.sheet and text != kept.text:
        scales = carried_scales(plain_sheet(kept), typed_sheet_of(text), parse_scales(kept.scales))
        new = replace(new, text=text, scales=scales_text(scales))
    return _changed(school, kept, new)


def chart_with_scale(school: School, number: int, place: str, scale: str) -> KeptChart:
    """Keep a chart with a scale set over one of its chords; an empty one is the program's again.

    Raises
    ------
    BriefError
        When there is no such place or scale.
    NoSuchThing
    """
    from halfstep.harmony.scales import find_mode

    with school.reading() as connection:
        kept = find_chart(connection, number)
    scales = {one.place: one for one in parse_scales(kept.scales)}
    scales.pop(place, None)
    try:
        if scale:
            (chosen,) = parse_scales(f"{place} {find_mode(scale).label}")
            scales[place] = chosen
        with_scales(plain_sheet(kept), scales.values())
    except (ReadError, ValueError) as error:
        raise BriefError(f"`scales`: {getattr(error, 'message', error)}") from None
    return _changed(school, kept, replace(kept, scales=scales_text(_in_order(scales))))


def _in_order(scales: dict[str, SetScale]) -> list[SetScale]:
    return sorted(scales.values(), key=lambda one: (one.bar, one.at))


def _changed(school: School, kept: KeptChart, new: KeptChart) -> KeptChart:
    """What is kept from now on; nothing is written where nothing is another."""
    if new == kept:
        return kept
    with school.writing() as connection:
        change_chart(connection, kept.number, title=new.title, text=new.text, scales=new.scales)
        return find_chart(connection, kept.number)
