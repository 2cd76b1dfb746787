"""The composition root: the only place that names concrete parts, and puts them together into a server."""

import asyncio
import gc
import socket
import tempfile
from collections.abc import Callable, Coroutine, Mapping, Sequence
from contextlib import closing, nullcontext
from datetime import timedelta
from itertools import zip_longest
from pathlib import Path
from typing import NamedTuple

from adapters.base import Feed, supervise
from adapters.drill.briefing import briefing_of
from adapters.drill.entry import start_of
from adapters.drill.feed import RehearsalFeed
from adapters.drill.rehearsal import Rehearsal
from server.archive.faults import ArchiveFault
from server.archive.forwarding import Forwarding, Lag
from server.archive.picture import show_on
from server.archive.place import archive_address
from server.clock import Clock
from server.contact_boards import Board, Wiring, WiringFaults, board_of, kept_going, rollcall_event
from server.demonstration import LEAD_S, plan_for_fingers, plan_moved_to, text_of
from server.desk.apart import Apart, Opening
from server.desk.app import create_app
from server.desk.backlog import Backlog
from server.desk.health import Health
from server.desk.listening import WebServer
from server.desk.pages import web_folder
from server.desk.plans import PlanDesk
from server.desk.records import Past
from server.desk.tls import SiteCertificate
from server.entrance import FAULTS as ENTRANCE_FAULTS
from server.entrance import Entrance, Open, entrance
from server.live import HeardRun, Hub, LiveRun
from server.plan_runs import PlanFile, Tell, run_in_log, write_down
from server.plans.site_store import SiteStore
from server.plans.store import PlanStore
from server.playing import Played, demo_plan, demonstration
from server.posting import post_to
from server.rehearsals import DrillAsked, NoSuchDrill, Reviewed, reviewed, scenario_of
from server.runlog import RunLog, RunLogFault, StoredRuns
from server.settings import settings_from_environment
from server.timeline.estimate import US_PER_S
from server.upkeep.counting import CountedRun, Counters
from server.upkeep.lines import begin_lines
from server.upkeep.lookout import AlarmLines, look_on
from server.upkeep.metrics import MEDIA_TYPE, Measured, Metrics
from server.upkeep.readiness import Readiness

FAULTS = (*ENTRANCE_FAULTS, RunLogFault, NoSuchDrill, WiringFaults, ArchiveFault)
"""What keeps a server from starting, each said in one sentence, or in one line a fault."""


class Show(NamedTuple):
    """One run, its clock, and what brings it events beside the desks, if anything does."""

    run: LiveRun
    clock: Clock
    feed: Feed | None
    contacts: Board | None = None


def rehearse(
    asked: DrillAsked, port: socket.socket, tell: Tell, opened: Open | None, hear: Callable[[Reviewed], None]
) -> None:
    """Let a crew rehearse on `port`, with a log that goes when it ends; `hear` gets how the drill went, once, then.

    The desks are served until a signal, which also ends the drill. Raises NoSuchDrill and RunLogFault.
    """
    file = asked.plan or demo_plan()
    scenario = scenario_of(asked, file.plan)
    begun = timedelta(seconds=LEAD_S + start_of(file.plan, scenario, asked.seed, asked.within_s))
    wall = Clock()
    plan = plan_moved_to(file.plan, wall.now() - begun)
    plan = plan if asked.crew == "all" else plan_for_fingers(plan, asked.rate)
    clock = Clock(wall.now(), asked.rate)
    rehearsal = Rehearsal(plan, scenario, asked.seed, asked.crew, clock.now_us(plan.zero) / US_PER_S)
    with (
        tempfile.TemporaryDirectory(prefix="festoon-", ignore_cleanup_errors=True) as folder,
        closing(RunLog.open(folder)) as log,
        entrance(log.devices, folder, port) as way_in,
    ):
        run_id = run_in_log(log, PlanFile(file.name, text_of(plan, file.text), plan), tell)
        write_down(log, run_id, ((event, event.t) for event in rehearsal.past))
        run = HeardRun(run_id, plan, clock, log, Hub(), demo=True)

        def review() -> str:
            if not done:
                done.append(reviewed(rehearsal, feed, plan, log.events(run.run_id), asked.rate))
                hear(done[0])
            return " ".join([done[0].title, *done[0].account.sentences])

        done: list[Reviewed] = []
        feed = RehearsalFeed(rehearsal, plan, tell, review)
        run.hear = feed.hear
        for line in briefing_of(rehearsal.duties, asked.seed, rehearsal.start_s):
            tell(line)
        with closing(_apart(folder, [run_id])) as apart:
            _serve(log, [Show(run, clock, feed)], way_in, Path(folder), tell, opened, Counters(), apart)
        review()


def demonstrate(port: socket.socket, rate: float, tell: Tell, opened: Open | None) -> None:
    """Show the demonstration on `port` as `serve` does, with a log that goes when it ends.

    `opened` is called with the address of the wall when it is there.
    """
    file, played = demonstration(Clock().now(), rate)
    with tempfile.TemporaryDirectory(prefix="festoon-", ignore_cleanup_errors=True) as folder:
        serve([file], port, folder, played, tell, opened)


def serve(
    plans: Sequence[PlanFile],
    port: socket.socket,
    data: str,
    played: Played | None,
    tell: Tell,
    opened: Open | None = None,
    *,
    certificate: SiteCertificate | None = None,
    at_terminal: bool = False,
    wirings: Sequence[Wiring] = (),
    archive: str | None = None,
) -> None:
    """Show the runs of `plans`, if any, and the log on `port` until a signal ends it.

    `data` is the folder of the log.

    `played` brings the events of every one of them; `wirings` are their contacts, in the same order. `tell` gets what
    the person who started it should read, a line at a time. `opened` gets the address of the first wall when it is
    there. With a `certificate` it speaks TLS; `at_terminal` says that what is told is not kept. `archive` is the
    address of an archive to which the log is forwarded, or a file that holds it. Raises one of FAULTS.
    """
    forwarding = None if archive is None else Forwarding(archive_address(archive), Path(data), Clock().now)
    with closing(RunLog.open(data)) as log, entrance(log.devices, data, port, certificate) as way_in:
        counters = Counters()
        shows = [_show(log, file, played, tell, counters) for file in plans]
        shows = [_wired(*each, tell) for each in zip_longest(shows, wirings)]
        with closing(_apart(data, [show.run.run_id for show in shows])) as apart, forwarding or nullcontext():
            _serve(
                *(log, shows, way_in, Path(data), tell, opened, counters, apart),
                at_terminal=at_terminal,
                forwarding=forwarding,
            )


def _apart(data: str, live: Sequence[str]) -> Apart:
    return Apart(Opening(StoredRuns.reading, data, (RunLogFault,), tuple(live)))


def _serve(
    log: RunLog,
    shows: Sequence[Show],
    way_in: Entrance,
    folder: Path,
    tell: Tell,
    opened: Open | None,
    counters: Counters,
    apart: Apart,
    *,
    at_terminal: bool = False,
    forwarding: Forwarding | None = None,
) -> None:
    begin_lines(settings_from_environment().log)
    runs = {show.run.run_id: show.run for show in shows}
    lag = None if forwarding is None else forwarding.lag
    past = Past(log, lambda: Clock().now(), (RunLogFault,), apart, lag)
    backlog = Backlog(past)
    contacts = {show.run.run_id: show.contacts for show in shows if show.contacts is not None}
    app = create_app(
        runs,
        way_in.hosts,
        web_folder(),
        way_in.doorkeeper,
        lambda: way_in.others,
        past=past,
        contacts=contacts,
        plans=PlanDesk(PlanStore(folder / "plans"), demo_plan().text, SiteStore(folder / "sites")),
        health=_health(log, runs, way_in, folder, counters, lag),
        backlog=backlog,
    )
    context = way_in.certificate.context if way_in.certificate else None
    server = WebServer(
        app, lambda: way_in.tell_addresses(list(runs), contacts, tell, opened, at_terminal=at_terminal), context
    )
    with asyncio.Runner(loop_factory=server.config.get_loop_factory()) as runner:
        beside = [backlog.look_after(runs), *([] if forwarding is None else [show_on(forwarding, runs)])]
        runner.run(_watch(shows, server, way_in.ports, counters, beside))


def _health(
    log: RunLog,
    runs: Mapping[str, LiveRun],
    way_in: Entrance,
    folder: Path,
    counters: Counters,
    lag: Callable[[], Lag] | None,
) -> Health:
    until = way_in.certificate.until if way_in.certificate else None
    metrics = Metrics(Measured(runs, way_in.doorkeeper, folder, until, lag), counters)
    return Health(Readiness(log.tried, (RunLogFault,), folder, counters), metrics.text, MEDIA_TYPE)


async def _watch(
    shows: Sequence[Show],
    server: WebServer,
    ports: list[socket.socket],
    counters: Counters,
    beside: Sequence[Coroutine[None, None, None]],
) -> None:
    for show in shows:
        show.run.start()
    feeds = [asyncio.create_task(supervise(show.feed, post_to(show.run), show.clock)) for show in shows if show.feed]
    wired = [(show, show.contacts) for show in shows if show.contacts is not None]
    feeds += [asyncio.create_task(w) for show, board in wired for w in kept_going(show.run, show.clock, board)]
    feeds.append(asyncio.create_task(look_on(AlarmLines([show.run for show in shows], counters), counters)))
    feeds += [asyncio.create_task(each) for each in beside]
    # What is there now stays. Gone through with what comes, it would stop the server for a tenth of a second at a time.
    gc.collect()
    gc.freeze()
    try:
        await server.serve(ports)
    finally:
        for feed in feeds:
            feed.cancel()
        await asyncio.gather(*feeds, return_exceptions=True)
        for show in shows:
            show.run.stop()


def _show(log: RunLog, file: PlanFile, played: Played | None, tell: Tell, counters: Counters) -> Show:
    run_id = run_in_log(log, file, tell)
    stored = log.events(run_id)
    clock = Clock() if played is None else played.clock(stored)
    feed = None if played is None else played.feed(stored, file.plan.zero, tell)
    run = CountedRun(run_id, file.plan, clock, log, Hub(), counters, demo=played is not None and played.demo)
    run.warn("damage", " ".join(log.lacking(run_id)) or None)
    return Show(run, clock, feed)


def _wired(show: Show, wiring: Wiring | None, tell: Tell) -> Show:
    """A show with its contacts, if it has any."""
    if wiring is None:
        return show
    for warning in wiring.warnings:
        tell(f"Warning: {warning}")
    return show._replace(contacts=board_of(show.run, show.clock, wiring))


def keep_roll_call(file: PlanFile, data: str, result: str, tell: Tell) -> None:
    """Write the result of a roll call down with the run of a plan. Raises RunLogFault, also while a server has it."""
    now = Clock().now()
    with closing(RunLog.open(data)) as log:
        run_id = run_in_log(log, file, tell)
        write_down(log, run_id, [(rollcall_event(now, result, None), now)])
    tell(f"{run_id}: the result is kept.")
