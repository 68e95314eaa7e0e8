"""Tables of transcribed solos that lie beside the repository, read where they are.

The charts of 342 solos and their chords (Weimar Jazz Database, ODbL: a seventh is j7, minor
is ``-``, and an accidental follows its degree, so ``79b`` is our 7b9). Their spelling is
translated here and nowhere else. The files are never copied.
"""

from __future__ import annotations

import csv
import re
from pathlib import Path

import pytest

from halfstep.progression.chart import Chart
from typed_charts import read_chart_text

DATA = Path(__file__).resolve().parents[2] / "shared" / "data" / "wjd-derived"
needs_tables = pytest.mark.skipif(not DATA.is_dir(), reason="the tables of solos are not here")

CHORD = re.compile(r"NC|(?P<root>[A-G][b#]?)(?P<suffix>[^A-GN/|\s]*)(?P<bass>/[A-G][b#]?)?")
SUFFIX = re.compile(r"(?P<frame>-|o|\+|sus)?(?P<major>j)?(?P<degrees>(?:(?:13|11|9|7|6)[b#]?)*)")
FRAMES = {None: "", "-": "m", "o": "dim", "+": "+", "sus": ""}
SECTION = re.compile(r"^[A-Z]'?\d+:", re.MULTILINE)


def rows(name: str) -> list[dict[str, str]]:
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def translated(found: re.Match[str]) -> str:
    """One of the authors' chords as we write it."""
    if found[0] == "NC":
        return "N.C."
    return found["root"] + translated_suffix(found["suffix"]) + (found["bass"] or "")


def translated_suffix(suffix: str) -> str:
    if suffix in {"7alt", "m7b5"}:
        return suffix
    parts = SUFFIX.fullmatch(suffix)
    assert parts, suffix
    degrees = re.findall(r"(13|11|9|7|6)([b#]?)", parts["degrees"])
    natural = [int(number) for number, sign in degrees if not sign]
    stacked = max(natural) if 9 in natural and 6 not in natural else min(natural, default=0)
    number = f"{stacked or ''}" + ("/9" if {6, 9} <= set(natural) else "")
    added = [n for n in natural if 9 not in natural and n > 7]
    return "".join((
        FRAMES[parts["frame"]],
        "maj" if parts["major"] else "",
        number,
        "sus4" if parts["frame"] == "sus" else "",
        *(sign + number for number, sign in degrees if sign),
        *(f"add{number}" for number in added),
    ))  # fmt: skip


def bars_of(changes: str) -> list[list[re.Match[str]]]:
    """The chords of each bar; the names of sections are left out."""
    bars = []
    for line in changes.splitlines():
        inside = SECTION.sub("", line).strip().strip("|")
        assert not CHORD.sub("", inside).replace("|", "").strip(), line
        bars += [list(CHORD.finditer(bar)) for bar in inside.split("|")]
    return bars


def chart_of(row: dict[str, str]) -> Chart:
    """A row of ``wjd_chord_charts.csv`` as a chart."""
    bars = bars_of(row["chord_changes"])
    text = "| " + " | ".join(" ".join(translated(c) for c in bar) for bar in bars) + " |"
    return read_chart_text(f"meter: {row['signature'] or '4/4'}\n{text}", source=row["id"])
