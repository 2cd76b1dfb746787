"""The figures of a server, as the OpenMetrics and Prometheus text format has them: read when somebody asks."""

import shutil
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Final, NamedTuple, get_args

from prometheus_client import CONTENT_TYPE_LATEST, ProcessCollector, generate_latest
from prometheus_client.core import CounterMetricFamily, GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from server.access import Doorkeeper
from server.archive.forwarding import Lag
from server.clock import Clock
from server.live import LiveRun
from server.timeline.view import Level, RunView
from server.upkeep.counting import Counters

MEDIA_TYPE: Final = CONTENT_TYPE_LATEST
Figure = Callable[[LiveRun], float]
Figures = Iterable[tuple[Sequence[str], float]]
"""A figure for each set of label values."""


class Measured(NamedTuple):
    """What is looked at: `folder` is where the log is, `certificate_until` None where there is no TLS.

    `archive` says how the archive fares that the log is forwarded to, None where it is not.
    """

    runs: Mapping[str, LiveRun]
    doorkeeper: Doorkeeper
    folder: Path
    certificate_until: datetime | None
    archive: Callable[[], Lag] | None = None


class Metrics(Collector):
    """What there is to be told; `counters` are those of the same server."""

    def __init__(self, measured: Measured, counters: Counters) -> None:
        self._measured = measured
        self._registry = counters.registry
        ProcessCollector(registry=self._registry)
        self._registry.register(self)

    def text(self) -> bytes:
        """All figures, in `MEDIA_TYPE`."""
        return generate_latest(self._registry)

    def describe(self) -> Sequence[Metric]:
        """Nothing: what there is depends on the runs."""
        return ()

    def collect(self) -> Iterator[Metric]:
        """The figures that are read off what there is."""
        yield _gauge("festoon_info", "The program.", [((_version(),), 1.0)], ["version"])
        yield from self._of_computer()
        yield from self._of_archive()
        runs = self._measured.runs
        yield _gauge("festoon_run_failed", "1 where a run no longer follows its events.", _by_run(runs, _failed))
        taken = [
            ((key, kind), n) for key, run in runs.items() for kind, n in Counter(e.kind for e in run.events).items()
        ]
        yield _counter("festoon_events_taken", "Events of a run that count.", taken, ["run", "kind"])
        yield _gauge(
            "festoon_events_waiting", "Events that are not on disk yet.", _by_run(runs, lambda run: run.on_the_way)
        )
        yield _gauge("festoon_desks", "Desks that are connected.", _by_run(runs, lambda run: run.hub.load()[0]))
        yield _gauge(
            "festoon_desks_behind",
            "Desks that read too slowly, and wait for a fresh snapshot.",
            _by_run(runs, lambda run: run.hub.load()[1]),
        )
        yield _gauge(
            "festoon_desk_waiting_bytes",
            "The most bytes that wait for one desk.",
            _by_run(runs, lambda run: run.hub.load()[2]),
        )
        alarms = [((key, level), n) for key, run in runs.items() for level, n in alarms_on(run.view).items()]
        yield _gauge("festoon_alarms_on", "Alarms that are on.", alarms, ["run", "level"])
        feeds = [((key, name), float(up)) for key, run in runs.items() for name, up in run.view.sources.items()]
        yield _gauge("festoon_feed_up", "1 for a source that is heard, 0 for a silent one.", feeds, ["run", "source"])

    def _of_archive(self) -> Iterator[Metric]:
        if self._measured.archive is None:
            return
        lag = self._measured.archive()
        late_s = (Clock().now() - lag.since).total_seconds() if lag.since else 0.0
        yield _gauge("festoon_archive_up", "1 where the archive takes what is sent.", [((), float(not lag.why))], [])
        waiting = [((), float(lag.waiting))]
        yield _gauge("festoon_archive_waiting_events", "Events that the archive does not have yet.", waiting, [])
        yield _gauge("festoon_archive_lag_seconds", "For how long something has waited.", [((), late_s)], [])
        yield _counter("festoon_archive_events_sent", "Events that were sent to it.", [((), float(lag.sent))], [])

    def _of_computer(self) -> Iterator[Metric]:
        paired = Counter(pairing.role for pairing in self._measured.doorkeeper.pairings.all())
        roles = [((role,), number) for role, number in paired.items()]
        yield _gauge("festoon_paired_devices", "Devices that are paired.", roles, ["role"])
        free = shutil.disk_usage(self._measured.folder).free if self._measured.folder.exists() else 0
        yield _gauge("festoon_disk_free_bytes", "Free on the disk of the log.", [((), float(free))], [])
        until = self._measured.certificate_until
        if until is not None:
            ends = [((), until.timestamp())]
            yield _gauge("festoon_certificate_end_seconds", "When the certificate ends, since 1970.", ends, [])


def alarms_on(view: RunView) -> dict[Level, int]:
    """How many alarms of each level are on."""
    on = Counter(alarm.level for alarm in view.alarms if alarm.state != "returned")
    return {level: on[level] for level in get_args(Level)}


def _failed(run: LiveRun) -> float:
    return float(run.fault is not None)


def _by_run(runs: Mapping[str, LiveRun], figure: Figure) -> Figures:
    return [((key,), float(figure(run))) for key, run in runs.items()]


def _gauge(name: str, text: str, figures: Figures, labels: Sequence[str] = ("run",)) -> Metric:
    family = GaugeMetricFamily(name, text, labels=labels)
    for key, figure in figures:
        family.add_metric(key, figure)
    return family


def _counter(name: str, text: str, figures: Figures, labels: Sequence[str]) -> Metric:
    family = CounterMetricFamily(name, text, labels=labels)
    for key, figure in figures:
        family.add_metric(key, figure)
    return family


def _version() -> str:
    try:
        return version("festoon")
    except PackageNotFoundError:
        return "unknown"
