"""What holds for all tests: one thread for matrices, and examples where there are any."""

from __future__ import annotations

import os
from collections.abc import Generator
from pathlib import Path

import pytest

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # as the program does; others wait at full speed


@pytest.hookimpl(wrapper=True)
def pytest_collect_file(
    file_path: Path,
) -> Generator[None, list[pytest.Collector], list[pytest.Collector]]:
    """A file without an example is neither loaded nor looked through for examples."""
    collectors = yield
    if not collectors or ">>>" in file_path.read_text(encoding="utf-8"):
        return collectors
    return [collector for collector in collectors if type(collector) is pytest.Module]
