"""How fast is a line edited? From an edit to the lines of music on a page, beside drawing it whole.

Run ``python bench/edit.py [--runs 9] [--bars 32]``. Invented progressions for several players and
metres, a chorus over each. Processor milliseconds in one process that has worked before, the
median and the worst of the runs:

- ``line``: a new line from its chart: written, and drawn whole, nothing of it kept;
- ``whole``: the same line drawn whole, nothing of it kept;
- ``edit``: another rhythm in one bar, from the request to the pictures;
- ``move``: one note a step higher, from the request to the pictures;
- ``undo``: that note back again;
- ``engraver``: the engraver library alone, over the whole line once: what a program that draws
  all of it after each edit would take at least;
- ``lines``: lines of music that the move drew, of all.

The aims are the project's own, for the median: 300 ms for an edit of 32 bars, 80 ms for one note
moved.
"""

from __future__ import annotations

import argparse
from collections.abc import Callable
from dataclasses import dataclass
from statistics import median
from time import process_time

from engravings import engravings

from halfstep.etude.bar_rhythms import figures_of
from halfstep.etude.line_edit import EditAction, LineEdit
from halfstep.render import engraver
from halfstep.render.engraved_systems import forget_engraving
from halfstep.services.edit_line import EditLine, LineReply, edit_line
from halfstep.services.write_etude import WriteEtude, write_one_etude

WIDTH_MM = 178.0
EDIT_MS, MOVE_MS, AIMED_BARS = 300.0, 80.0, 32
FOUR = ("Fmaj7", "D7", "Gm7", "C7", "Am7 D7", "Gm7", "C7", "F6", "Cm7", "F7", "Bbmaj7", "Eb7")
CASES = {
    "alto sax, 4/4": ("alto-sax", "", 32),
    "trumpet, 3/4": ("trumpet", "meter: 3/4\n", 32),
    "trombone, 5/4": ("trombone", "meter: 5/4\n", 32),
    "clarinet, 2/2": ("clarinet", "meter: 2/2\n", 32),
    "flute, pickup": ("flute", "{pickup 1} C7 | ", 32),
    "guitar, one bar": ("guitar", "", 1),
    "piano, 64 bars": ("piano", "", 64),
}


@dataclass(frozen=True, slots=True)
class EditCase:
    """A line, the request for it, and an edit of each kind."""

    request: WriteEtude
    text: str
    rhythms: tuple[LineEdit, ...]
    moves: tuple[LineEdit, ...]


def case(player: str, head: str, bars: int, runs: int) -> EditCase:
    """A chorus over so many bars, with as many edits of each kind as there are runs."""
    chords = " | ".join(FOUR[number % len(FOUR)] for number in range(bars))
    lead = f"key: F\n{head}" if head.endswith("\n") else f"key: F\n{head or '| '}"
    chart = lead + ("| " if head.endswith("\n") else "") + chords + " |"
    request = WriteEtude(chart, "chorus", instrument=player)
    text = write_one_etude(request).file(".json").data.decode()
    etude = edit_line(EditLine(text)).etude
    brief, meter = etude.brief, etude.analysis.chart.meter
    figures = figures_of(meter, brief.level, brief.feel)
    starts = [start for bar, start in etude.analysis.chart.placed() if bar.number >= 1]
    sounding = [note.onset for note in etude.notes if note.pitch]
    return EditCase(
        request,
        text,
        tuple(
            LineEdit(EditAction.RHYTHM, starts[7 * n % bars], figures[n % len(figures)])
            for n in range(runs)
        ),
        tuple(LineEdit(EditAction.STEP_UP, sounding[17 * n % len(sounding)]) for n in range(runs)),
    )


def taken_ms(work: Callable[[], object]) -> float:
    """Processor milliseconds of one call."""
    start = process_time()
    work()
    return 1000 * (process_time() - start)


def drawn(text: str, edits: tuple[LineEdit, ...] = ()) -> LineReply:
    """The line after its edits, drawn."""
    reply = edit_line(EditLine(text, edits))
    reply.pictures(width_mm=WIDTH_MM)
    return reply


def new_line(request: WriteEtude) -> None:
    """A line written, stored, opened and drawn, nothing of it kept."""
    forget_engraving()
    drawn(write_one_etude(request).file(".json").data.decode())


def whole(text: str) -> None:
    """A line drawn whole."""
    forget_engraving()
    drawn(text)


def engraver_ms(text: str) -> float:
    """What the engraver library takes for the whole line, measured inside a drawing of it."""
    forget_engraving()
    with engravings() as given:
        drawn(text)
    mei = given[-1].mei
    toolkit = engraver._toolkit()

    def engraved_once() -> None:
        toolkit.loadData(mei)
        for page in range(toolkit.getPageCount()):
            toolkit.renderToSVG(page + 1)

    return median(taken_ms(engraved_once) for _ in range(5))


def lines_drawn(text: str, edit: LineEdit) -> tuple[int, int]:
    """Lines of music that differ after an edit, and all of them."""
    pictures = edit_line(EditLine(text)).pictures(width_mm=WIDTH_MM)
    after = edit_line(EditLine(text, (edit,))).pictures(width_mm=WIDTH_MM)
    return sum(one.svg != two.svg for one, two in zip(pictures, after, strict=False)), len(after)


def measured(made: EditCase, runs: int) -> dict[str, list[float]]:
    """The times of each kind, taken in turn, so that a busy machine slows all alike."""
    times: dict[str, list[float]] = {name: [] for name in ("line", "whole", "edit", "move", "undo")}
    whole(made.text)
    for run in range(runs):
        rhythm, move = made.rhythms[run], made.moves[run]
        times["line"].append(taken_ms(lambda: new_line(made.request)))
        times["whole"].append(taken_ms(lambda: whole(made.text)))
        times["edit"].append(taken_ms(lambda: drawn(made.text, (rhythm,))))  # noqa: B023
        times["move"].append(taken_ms(lambda: drawn(made.text, (move,))))  # noqa: B023
        times["undo"].append(taken_ms(lambda: drawn(made.text)))
    return times


def main(runs: int) -> None:
    """Print a row for each case."""
    print(f"{'':18}" + "".join(f"{name:>14}" for name in ("line", "whole", "edit", "move", "undo")))
    for name, (player, head, bars) in CASES.items():
        made = case(player, head, bars, runs)
        times = measured(made, runs)
        cells = "".join(
            f"{f'{median(values):.0f} ({max(values):.0f})':>14}" for values in times.values()
        )
        changed, lines = lines_drawn(made.text, made.moves[0])
        aims = median(times["edit"]) <= EDIT_MS and median(times["move"]) <= MOVE_MS
        print(
            f"{name:18}{cells}  engraver {engraver_ms(made.text):.0f}, lines {changed} of {lines}"
            f"{'' if aims or bars > AIMED_BARS else '  aims missed'}"
        )


if __name__ == "__main__":
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawTextHelpFormatter
    )
    parser.add_argument("--runs", type=int, default=9)
    main(parser.parse_args().runs)
