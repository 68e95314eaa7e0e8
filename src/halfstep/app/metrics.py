"""Numbers for who watches over a server, in the text format of Prometheus.

How many jobs wait in each lane and for how long, how they ended, how many takes there are; and of
pages how each route answered. Nothing of a person is in them. They have an address of their own, on
this machine unless another is given: it is not one of the pages, and needs no right.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from contextlib import contextmanager

from prometheus_client import CollectorRegistry, Counter, Histogram, start_http_server
from prometheus_client.core import GaugeMetricFamily
from prometheus_client.registry import Collector

from halfstep.errors import BriefError, StoreError
from halfstep.school.database import School
from halfstep.school.job_counts import LaneCount, lane_counts
from halfstep.school.sent_takes import count_sent_takes

LOOPBACK = "127.0.0.1"
SECONDS = (0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0)
"""Where the times of answers are parted."""


class SchoolNumbers(Collector):
    """What the database tells, each time that it is asked.

    Parameters
    ----------
    school : School
    """

    def __init__(self, school: School) -> None:
        self._school = school

    def collect(self) -> Iterator[GaugeMetricFamily]:
        """The numbers as they are now; none but that it is away where it is."""
        up = GaugeMetricFamily("halfstep_database_up", "1 while the database answers")
        try:
            with self._school.reading() as connection:
                families = [*_jobs(lane_counts(connection))]
                takes = GaugeMetricFamily("halfstep_takes", "Takes that students sent")
                takes.add_metric([], count_sent_takes(connection))
            up.add_metric([], 1)
            families.append(takes)
        except StoreError:
            families = []
            up.add_metric([], 0)
        yield from (up, *families)


def _jobs(lanes: Iterable[LaneCount]) -> Iterator[GaugeMetricFamily]:
    count = GaugeMetricFamily("halfstep_jobs", "Jobs, by lane and state", labels=["lane", "state"])
    oldest = GaugeMetricFamily(
        "halfstep_oldest_waiting_seconds", "How long the oldest job waits", labels=["lane"]
    )
    for lane in lanes:
        for state, number in lane.states.items():
            count.add_metric([lane.lane, str(state)], number)
        oldest.add_metric([lane.lane], lane.oldest_s)
    yield from (count, oldest)


class RequestNumbers:
    """How routes answered, from when this process began."""

    def __init__(self) -> None:
        self.registry = CollectorRegistry()
        labels = ["method", "route"]
        self._answers = Counter(
            "halfstep_answers", "Answers", [*labels, "status"], registry=self.registry
        )
        self._seconds = Histogram(
            "halfstep_answer_seconds", "Until it was answered", labels,
            buckets=SECONDS, registry=self.registry,
        )  # fmt: skip

    def tell(self, method: str, route: str, status: int, seconds: float) -> None:
        """Count an answer."""
        self._answers.labels(method, route, str(status)).inc()
        self._seconds.labels(method, route).observe(seconds)


@contextmanager
def metrics_at(
    typed: str, school: School, requests: RequestNumbers | None = None
) -> Iterator[None]:
    """Answer with the numbers at an address, inside the block.

    Raises
    ------
    BriefError
        When it cannot be listened at.
    """
    host, port = metrics_address(typed)
    registry = requests.registry if requests else CollectorRegistry()
    registry.register(SchoolNumbers(school))
    try:
        server, thread = start_http_server(port, host, registry)
    except OSError as error:
        raise BriefError(f"`metrics` {typed}: {error.strerror}; give another port") from None
    try:
        yield
    finally:
        server.shutdown()
        server.server_close()
        thread.join()


def metrics_address(typed: str) -> tuple[str, int]:
    """A host and a port: ``9100``, ``10.0.0.5:9100``.

    Raises
    ------
    BriefError
    """
    host, _, port = typed.rpartition(":")
    if not (port.isascii() and port.isdecimal() and 0 < int(port) < 65536):
        raise BriefError(
            f"`metrics` {typed}: give a port, or an address and a port: 127.0.0.1:9100"
        )
    return host.strip("[]") or LOOPBACK, int(port)
