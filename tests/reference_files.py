"""Where the reference data lies: beside the repository, for tests alone."""

from __future__ import annotations

from pathlib import Path

DATA = Path(__file__).resolve().parents[2] / "shared" / "data"
