"""The lines of the bench, and a sound bank to play them."""

from __future__ import annotations

import importlib.util
import sys
from pathlib import Path
from types import ModuleType

import pytest

from halfstep.errors import MissingExtra
from halfstep.render.soundbank import find_bank

BENCH = Path(__file__).parents[2] / "bench"


@pytest.fixture(scope="module")
def takes() -> ModuleType:
    spec = importlib.util.spec_from_file_location("takes", BENCH / "takes.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["takes"] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def bank() -> Path:
    try:
        return find_bank()
    except MissingExtra as error:
        pytest.skip(str(error))
