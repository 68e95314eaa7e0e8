"""A desk for the tests of the pages."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from desks import Desk, new_desk


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    with new_desk(tmp_path / "data") as made:
        yield made
