"""A progress bar on a terminal's standard error, nothing elsewhere."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager


@contextmanager
def progress_bar(first: str) -> Iterator[Callable[[float, str], None]]:
    """A bar from 0 to 1; inside, told the share that is done and the last piece of work.

    Parameters
    ----------
    first : str
        What is being done before anything is told.
    """
    if not sys.stderr.isatty():
        yield lambda _share, _work: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, Progress

    columns = ("{task.description:32}", BarColumn(), "{task.percentage:3.0f} %")
    with Progress(*columns, console=Console(stderr=True), transient=True) as bar:
        task = bar.add_task(first, total=1.0)
        yield lambda share, work: bar.update(task, completed=share, description=work)
