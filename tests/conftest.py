"""What all tests share: the folder of reference data, and calm property tests."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import settings

DATA = Path(__file__).resolve().parents[2] / "shared" / "data"

settings.register_profile("halfstep", deadline=None, max_examples=60, derandomize=True)
settings.load_profile("halfstep")


@pytest.fixture(scope="session")
def reference_data() -> Path:
    """The reference data beside the repository; the test is skipped without it."""
    if not DATA.is_dir():
        pytest.skip("the reference data is not beside the repository")
    return DATA


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Slow tests run last, so that most faults show in the first seconds."""
    items.sort(key=lambda item: item.get_closest_marker("slow") is not None)
