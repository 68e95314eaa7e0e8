"""How does a worker do jobs for which it is called, on one of several machines?

procrastinate gives it a call at a time. A worker whose heart has stopped is seen by the others,
which give its calls back: no job waits for a dead worker for longer than a minute.
"""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from contextlib import suppress

from procrastinate import App, PsycopgConnector, RetryStrategy
from procrastinate.exceptions import ConnectorException

from halfstep.app.tasks.job_work import Workplace, answer_call
from halfstep.errors import StoreError
from halfstep.school.job_calls import CALL
from halfstep.school.job_queue import call_for_overlooked
from halfstep.school.lanes import LANES

BEATS_EVERY_S = 5.0
GONE_AFTER_S = 25.0
"""A worker whose heart has not beaten for so long is taken for dead."""
LOOKS_EVERY_S = 10.0
"""How often each worker looks after the others."""
LOOKS_UNASKED_S = 5.0
"""How often it looks for a call that it did not hear of."""
TRIES_AGAIN_S = 2
"""After the school could not be read or written."""


def work_when_called(place: Workplace, lane: str, look: Callable[[], object]) -> None:
    """Answer calls until the database cannot be reached; then the process is to start anew.

    Parameters
    ----------
    place : Workplace
        With a database on a server.
    lane : str
        Whose calls are answered; all where it is empty.
    look : callable
        Looks, now and then, for what else has to be done.
    """
    asyncio.run(_work(place, [lane] if lane else list(LANES), look))


async def _work(place: Workplace, lanes: list[str], look: Callable[[], object]) -> None:
    app = _app(place)
    async with app.open_async():
        work = asyncio.create_task(
            app.run_worker_async(
                queues=lanes,
                name=place.worker,
                fetch_job_polling_interval=LOOKS_UNASKED_S,
                update_heartbeat_interval=BEATS_EVERY_S,
                stalled_worker_timeout=GONE_AFTER_S,
                delete_jobs="always",
                install_signal_handlers=False,
            )
        )
        care = asyncio.create_task(_look_after(app, place, look))
        await asyncio.wait((work, care), return_when=asyncio.FIRST_COMPLETED)
        care.cancel()
        await work


def _app(place: Workplace) -> App:
    app = App(connector=PsycopgConnector(conninfo=place.school.address, min_size=2, max_size=4))
    again = RetryStrategy(wait=TRIES_AGAIN_S, retry_exceptions={StoreError})

    @app.task(name=CALL, retry=again)
    def do_job(number: int) -> None:
        answer_call(place, number)

    return app


async def _look_after(app: App, place: Workplace, look: Callable[[], object]) -> None:
    """Give back the calls of workers that are gone, and call for what nobody calls for."""
    while True:
        await asyncio.to_thread(_call_for_overlooked, place)
        await asyncio.to_thread(look)
        for job in await app.job_manager.get_stalled_jobs(seconds_since_heartbeat=GONE_AFTER_S):
            with suppress(ConnectorException):  # another was quicker
                await app.job_manager.retry_job(job)
        await asyncio.sleep(LOOKS_EVERY_S)


def _call_for_overlooked(place: Workplace) -> None:
    with suppress(StoreError), place.school.writing() as connection:
        call_for_overlooked(connection)
