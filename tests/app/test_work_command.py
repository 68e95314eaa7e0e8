"""``halfstep work``: jobs are done beside a server that does none."""

from __future__ import annotations

import signal
import subprocess
import sys
from pathlib import Path
from time import monotonic, sleep

import pytest

from app.app_command import Command
from halfstep.school.database import School
from halfstep.school.jobs import JobState, add_job, find_job
from halfstep.services.read_chart import ReadChart
from halfstep.services.stored_requests import request_text

PATIENCE_S = 60.0


@pytest.mark.slow
def test_a_job_is_done_and_who_is_told_to_stop_ends_with_its_workers(tmp_path: Path) -> None:
    work = [sys.executable, "-m", "halfstep", "work", "--workers", "1", "--data", str(tmp_path)]
    with School(tmp_path) as school:
        with school.writing() as connection:
            job = add_job(connection, "api", request_text(ReadChart("| C | F |"))).number
        with subprocess.Popen(work, stdout=subprocess.PIPE, text=True) as process:
            assert process.stdout is not None
            assert process.stdout.readline() == f"1 worker at {tmp_path}; Ctrl-C stops\n"
            until_s, state = monotonic() + PATIENCE_S, JobState.WAITING
            while state is not JobState.DONE and monotonic() < until_s:
                sleep(0.1)
                with school.reading() as connection:
                    state = find_job(connection, job).state
            process.send_signal(signal.SIGTERM)
            assert process.wait(PATIENCE_S) == 0
    assert state is JobState.DONE


@pytest.mark.parametrize("typed", ["-1", "x", "65", "1.5"])
def test_a_number_that_is_none_is_one_line(command: Command, typed: str) -> None:
    refused = command("work", f"--workers={typed}")
    assert refused.status == 2
    assert refused.err == f"halfstep: --workers {typed}: give a number from 0 to 64\n"
