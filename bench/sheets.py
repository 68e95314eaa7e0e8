"""What does a class's music in all keys take to set, beside the engraver library alone?

Run ``python bench/sheets.py [--runs 3] [--of 1] [--processes 2]``. Twelve invented bars in twelve
keys, for four transpositions, six steps each, are 288 sheets; ``--of 6`` takes every sixth of them.
Each sheet's lines of music are set from its score, chord symbols, signs and all, nothing kept
from another sheet; beside it stand

- ``engraver, MusicXML``: the same sheet as MusicXML, read and drawn by the engraver library alone,
  with its own line breaks and chord symbols: what a program takes that leaves all to it;
- ``engraver, our lines``: the notes of our lines alone, drawn by it once.

Conventions
-----------
- Processor time; of each sheet the least of the runs, in which the three take turns, so that other
  programs at work change the ratios little.
- With ``--processes`` all sheets are set once more by so many processes that share them out. By the
  processor's time two that have nothing else to do need at least half of what all take together;
  the clock says what they took here, beside one process alone.

The aim is the project's own: 1.3 times the engraver alone.
"""

from __future__ import annotations

import argparse
import tempfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path
from time import monotonic, process_time

from engravings import engravings

from halfstep.lesson.backing_brief import key_cycle
from halfstep.lesson.make import make_lesson
from halfstep.lesson.pages import handout_for
from halfstep.render import engraver
from halfstep.render.engraved_systems import forget_engraving
from halfstep.render.musicxml_writer import write_musicxml
from halfstep.render.score_pictures import draw_systems
from halfstep.score import Score
from halfstep.services.make_lesson import MakeLesson, lesson_brief
from halfstep.workers import Workers
from lesson import CHART

AIM = 1.3
WIDTH_MM = 178.0
PLAYERS = ("flute", "tenor-sax", "alto-sax", "trombone")
PAGE = {"pageWidth": 2100, "pageHeight": 60000, "adjustPageHeight": True, "breaks": "auto"}


def scores_of(folder: Path) -> Iterator[Score]:
    """The music of every sheet."""
    home = lesson_brief(MakeLesson(CHART, folder)).chart
    for key in key_cycle(home):
        lesson = make_lesson(lesson_brief(MakeLesson(CHART, folder, PLAYERS, key=str(key))))
        for player in lesson.players:
            yield from (entry.score for entry in handout_for(lesson, player).steps)


def taken_s(work: Callable[[], object]) -> float:
    """Processor seconds of one call."""
    start_s = process_time()
    work()
    return process_time() - start_s


def set_sheet(score: Score) -> int:
    """The lines of a sheet, nothing of them kept."""
    forget_engraving()
    return len(draw_systems(score, width_mm=WIDTH_MM))


def set_sheets(scores: Sequence[Score]) -> tuple[int, float]:
    """How many lines some sheets have, and the processor's time. Runs in a process."""
    start_s = process_time()
    return sum(map(set_sheet, scores)), process_time() - start_s


def drawn_by_engraver(text: str, options: dict[str, object]) -> None:
    """All that the engraver library draws of a text."""
    toolkit = engraver._toolkit()
    toolkit.setOptions(options)
    toolkit.loadData(text)
    for number in range(1, toolkit.getPageCount() + 1):
        toolkit.renderToSVG(number)


def lines_of(score: Score) -> list[tuple[str, float]]:
    """What the engraver is given of a sheet when its lines are set, and how wide they are."""
    with engravings() as given:
        set_sheet(score)
    return [(one.mei, one.width) for one in given if one.is_stretched]


def draw_lines(lines: Sequence[tuple[str, float]]) -> None:
    """The notes of our lines, drawn by the engraver library alone."""
    for mei, width in lines:
        page = {"pageWidth": round(width / 10), "noJustification": False}
        drawn_by_engraver(mei, engraver._OPTIONS | page)


def as_musicxml(score: Score, folder: Path) -> str:
    """A sheet as MusicXML."""
    path = folder / "sheet.musicxml"
    write_musicxml(path, score)
    return path.read_text(encoding="utf-8")


def least_of(score: Score, folder: Path, runs: int) -> tuple[float, float, float]:
    """Of a sheet: ours, the engraver from MusicXML, and the engraver over our lines."""
    text, lines = as_musicxml(score, folder), lines_of(score)
    works = (
        lambda: set_sheet(score),
        lambda: drawn_by_engraver(text, PAGE),
        lambda: draw_lines(lines),
    )
    times = [[taken_s(work) for work in works] for _ in range(runs)]
    ours, whole, notes = (min(column) for column in zip(*times, strict=True))
    return ours, whole, notes


def shared_out(scores: Sequence[Score], processes: int) -> None:
    """Print what one process and several take for all sheets."""
    from sheets import set_sheets as task  # as another process finds it

    start_s = monotonic()
    _, alone_s = set_sheets(scores)
    one_s = monotonic() - start_s
    with Workers(processes) as workers:
        for ready in [workers.submit(task, scores[:1]) for _ in range(processes)]:
            ready.result()
        start_s = monotonic()
        parts = [workers.submit(task, scores[n::processes]) for n in range(processes)]
        cpu_s = sum(part.result()[1] for part in parts)
        many_s = monotonic() - start_s
    print(f"one process         {one_s:7.2f} s by the clock, {alone_s:6.2f} s of the processor")
    print(f"{processes} processes         {many_s:7.2f} s by the clock, {cpu_s:6.2f} s in all")
    by_processor = processes * alone_s / cpu_s
    print(f"ratio               {one_s / many_s:7.2f}, by the processor {by_processor:.2f}")


def main() -> None:
    """Print the sums over all sheets, and their ratios."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--runs", type=int, default=3)
    parser.add_argument("--of", type=int, default=1)
    parser.add_argument("--processes", type=int, default=2)
    arguments = parser.parse_args()
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        scores = list(scores_of(folder))[:: arguments.of]
        rows = [least_of(score, folder, arguments.runs) for score in scores]
    ours, whole, notes = (sum(column) for column in zip(*rows, strict=True))
    print(f"{len(scores)} sheets of {len(scores[0].bars)} bars; the least of {arguments.runs} runs")
    print(f"ours                {ours:7.2f} s")
    print(f"engraver, MusicXML  {whole:7.2f} s   ours {ours / whole:5.2f} times, aim {AIM}")
    print(f"engraver, our lines {notes:7.2f} s   ours {ours / notes:5.2f} times")
    shared_out(scores, arguments.processes)


if __name__ == "__main__":
    main()
