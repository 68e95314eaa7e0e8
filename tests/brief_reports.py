"""What does one of several processes tell of a test? Its outcome, and no more.

pytest-xdist 3.8 sends six messages a test, and the process that gathers them takes as long as a
short test does. Two are enough: how the call went, or what else went wrong, and that it is done.
"""

from __future__ import annotations

import pytest


def ran_briefly(item: pytest.Item, nextitem: pytest.Item | None) -> bool:
    """Run a test as pytest does; what went well before and after its call is left out."""
    runner = item.config.pluginmanager.getplugin("runner")
    for report in runner.runtestprotocol(item, log=False, nextitem=nextitem):
        if report.when == "call" or not report.passed:
            item.ihook.pytest_runtest_logreport(report=report)
    return True
