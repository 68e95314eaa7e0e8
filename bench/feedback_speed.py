"""How long does feedback take, beside listening alone, and how much memory?

Run ``python bench/feedback_speed.py --bank BANK.sf3``: a take of three minutes over its backing,
held against its line and as an improvised one. Seconds are those of the processor, on as many
cores as the environment lets the libraries have.
"""

from __future__ import annotations

import argparse
import tempfile
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from resource import RUSAGE_SELF, getrusage

from planted_takes import CLEAN, Playing, Session, Studio, playing, session

from halfstep.feedback.judge import judge
from halfstep.services.give_feedback import GiveFeedback, give_feedback
from halfstep.services.hear_take import HearTake, hear_take

LENGTH_S = 180.0


def main() -> None:
    """Record once, hear and judge, and print."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--bank", type=Path, required=True)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        play = _long(session("chorus", 0))
        studio = Studio(options.bank, Path(folder), choruses=play.session.passes)
        take = studio.record(play, CLEAN, 0)
        etude = Path(folder) / "etude.json"
        etude.write_bytes(play.session.reply.file(".json").data)
        _measure(play, take, studio.backing(play.session.chart), etude)


def _long(sitting: Session) -> Playing:
    passes = round(LENGTH_S / (sitting.quarter_s * sitting.form.beats) + 0.5)
    return playing(replace(sitting, passes=passes))


def _measure(play: Playing, take: Path, backing: Path, etude: Path) -> None:
    hearing = HearTake(take, backing=backing, instrument=play.session.instrument)
    hear_take(hearing)  # what is loaded once is not counted
    heard_s = _seconds(partial(hear_take, hearing))
    heard_mb = _most_mb()
    for name, line in (("against its line", etude), ("improvised", None)):
        request = GiveFeedback(
            take,
            chart=play.session.chart,
            backing=backing,
            instrument=play.session.instrument,
            etude=line,
        )
        reply = give_feedback(request)
        whole_s = _seconds(partial(give_feedback, request))
        judging_s = _seconds(partial(judge, reply.feedback.take))
        print(
            f"{name}: {len(reply.feedback.notes)} notes, feedback {whole_s:.2f} s, listening alone "
            f"{heard_s:.2f} s, ratio {whole_s / heard_s:.2f}; judging {judging_s:.2f} s; most "
            f"memory {_most_mb():.0f} MB, of listening alone {heard_mb:.0f} MB"
        )


def _seconds(work: Callable[[], object]) -> float:
    begun = time.process_time()
    work()
    return time.process_time() - begun


def _most_mb() -> float:
    return getrusage(RUSAGE_SELF).ru_maxrss / 1024


if __name__ == "__main__":
    main()
