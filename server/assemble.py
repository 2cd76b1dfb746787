"""The composition root: the only place that names concrete parts, and puts them together into a server."""

import asyncio
import gc
import logging
import re
import socket
import tempfile
import unicodedata
from collections.abc import Callable, Container, Coroutine, Iterable, Mapping, Sequence
from contextlib import closing, nullcontext
from datetime import datetime, timedelta
from itertools import zip_longest
from pathlib import Path
from typing import NamedTuple

import adapters.drill
from adapters.base import Feed, supervise
from adapters.drill.account import Account, Told, account_of, json_of
from adapters.drill.briefing import briefing_of
from adapters.drill.demo import demo_events
from adapters.drill.duties import CrewKind, Duties
from adapters.drill.entry import start_of
from adapters.drill.feed import RehearsalFeed
from adapters.drill.library import LIBRARY, scenario_for
from adapters.drill.rehearsal import Rehearsal, surprise
from adapters.drill.review import review_of
from adapters.drill.scenario import Scenario
from adapters.recording import ByClock, RecordingFeed
from server.archive.faults import ArchiveFault
from server.archive.forwarding import Forwarding, Lag
from server.archive.picture import show_on
from server.archive.place import archive_address
from server.clock import Clock
from server.contacts import Board, Wiring, WiringFaults, board_of, kept_going, post_to, rollcall_event
from server.demonstration import LEAD_S, plan_for_fingers, plan_moved_to, text_of
from server.desk.apart import Apart, Opening
from server.desk.app import create_app
from server.desk.backlog import Backlog
from server.desk.health import Health
from server.desk.listening import WebServer, open_port
from server.desk.pages import web_folder
from server.desk.plans import PlanDesk
from server.desk.records import Past
from server.desk.tls import SiteCertificate
from server.entrance import FAULTS as ENTRANCE_FAULTS
from server.entrance import Entrance, certificate_from_files, entrance
from server.live import HeardRun, Hub, LiveRun
from server.plans.site_store import SiteStore
from server.plans.store import PlanStore
from server.review.account import account_from_log
from server.review.alarm_spans import AlarmSpan
from server.review.walk import Walk
from server.runlog import RunLog, RunLogFault, StoredEvent, StoredRuns
from server.settings import settings_from_environment
from server.timeline.estimate import US_PER_S
from server.timeline.events import Event, Recording, Rejected
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import house_clock
from server.upkeep.counting import CountedRun, Counters
from server.upkeep.lines import begin_lines
from server.upkeep.lookout import AlarmLines, look_on
from server.upkeep.metrics import MEDIA_TYPE, Measured, Metrics
from server.upkeep.readiness import Readiness

_log = logging.getLogger(__name__)

__all__ = [
    "DRILLS",
    "FAULTS",
    "Asked",
    "NoSuchDrill",
    "PlanFile",
    "Played",
    "Reviewed",
    "certificate_from_files",
    "demonstrate",
    "keep_roll_call",
    "open_port",
    "played_from_recording",
    "rehearse",
    "run_name",
    "serve",
]


class NoSuchDrill(Exception):
    """A drill that cannot be had, in one sentence."""


FAULTS = (*ENTRANCE_FAULTS, RunLogFault, NoSuchDrill, WiringFaults, ArchiveFault)
"""What keeps a server from starting, each said in one sentence, or in one line a fault."""

NAME_LENGTH = 60
"""What the name of a run takes of its title. Chosen."""

DRILLS = {name: entry.text for name, entry in LIBRARY.items()}
"""What can go wrong in a drill: a sentence for each name."""

_OWN = frozenset({"film_heat", "reserve_spent"})
"""Alarms that ask for something of their own, and call whatever they are under."""

DEMO_SEED = 1
"""Chosen: the demonstration is the same every time."""

Tell = Callable[[str], None]
Open = Callable[[str], object]


class PlanFile(NamedTuple):
    """A plan with the text it was made of; `name` is what its file is called."""

    name: str
    text: str
    plan: Plan


class Played(NamedTuple):
    """Events to be played into a run by a clock that begins at `start` and runs at `rate`."""

    events: Sequence[Event]
    start: datetime
    rate: float
    rejected: Sequence[Rejected] = ()
    demo: bool = False


class Asked(NamedTuple):
    """A drill as somebody wants it: `plan` None for the demonstration's, `fault` one of DRILLS, None for a surprise.

    Something goes wrong within `within_s` of the show's time; it is more than a minute.
    """

    plan: PlanFile | None
    fault: str | None
    crew: CrewKind
    seed: int
    rate: float
    within_s: float


class Reviewed(NamedTuple):
    """How a drill went: for whoever took part, and as a document."""

    title: str
    account: Account
    document: dict[str, object]


class Show(NamedTuple):
    """One run, its clock, and what brings it events beside the desks, if anything does."""

    run: LiveRun
    clock: Clock
    feed: Feed | None
    contacts: Board | None = None


def played_from_recording(recording: Recording, plan: Plan, rate: float) -> Played:
    """A recording as it was written down, `rate` times as fast."""
    start = min((event.t for event in recording.events), default=plan.zero)
    return Played(recording.events, start, rate, recording.rejected)


def rehearse(
    asked: Asked, port: socket.socket, tell: Tell, opened: Open | None, reviewed: Callable[[Reviewed], None]
) -> None:
    """Let a crew rehearse on `port`, with a log that goes when it ends; `reviewed` is called once, when the drill ends.

    The desks are served until a signal, which also ends the drill. Raises NoSuchDrill and RunLogFault.
    """
    file = asked.plan or demo_plan()
    scenario = _scenario(asked, file.plan)
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
        run_id = _stored_run(log, PlanFile(file.name, text_of(plan, file.text), plan), tell)
        asyncio.run(_write_past(log, run_id, rehearsal.past))
        run = HeardRun(run_id, plan, clock, log, Hub(), demo=True)

        def review() -> str:
            if not done:
                done.append(_reviewed(rehearsal, feed, plan, log.events(run.run_id), asked.rate))
                reviewed(done[0])
            return " ".join([done[0].title, *done[0].account.sentences])

        done: list[Reviewed] = []
        feed = RehearsalFeed(rehearsal, plan, tell, review)
        run.hear = feed.hear
        for line in briefing_of(rehearsal.duties, asked.seed, rehearsal.start_s):
            tell(line)
        with closing(_apart(folder, [run_id])) as apart:
            _serve(log, [Show(run, clock, feed)], way_in, Path(folder), tell, opened, Counters(), apart)
        review()


async def _write_past(log: RunLog, run_id: str, past: Iterable[Event]) -> None:
    """What was seen of a show before somebody came to it, as it was known then."""
    for event in past:
        await log.append(run_id, event, event.t)


def _scenario(asked: Asked, plan: Plan) -> Scenario:
    if asked.fault is None:
        scenario = surprise(plan, asked.seed, asked.crew)
    elif asked.fault in LIBRARY:
        scenario = scenario_for(asked.fault, plan, asked.seed)
    else:
        raise NoSuchDrill(f"--fault: found {asked.fault!r}; accepted {', '.join(LIBRARY)}")
    if scenario.faults and not Duties(plan, asked.crew).comes_about(scenario):
        raise NoSuchDrill(
            f"--fault {asked.fault}: here the simulated crew errs, and with --crew {asked.crew} its work is yours; "
            "accepted with --crew all"
        )
    return scenario


def _reviewed(
    rehearsal: Rehearsal, feed: RehearsalFeed, plan: Plan, stored: Iterable[StoredEvent], rate: float
) -> Reviewed:
    review = review_of(rehearsal, list(feed.reported.values()))
    account = account_from_log(plan, stored, round(review.ended_s * US_PER_S))
    came_us = round(review.start_s * US_PER_S)
    spans = [span for span in Walk(account, "then").spans if span.over_us is None or span.over_us > came_us]
    told = [_told(span, span.alone_us) for span in spans if span.alone_us is not None]
    return Reviewed(
        f"How it went. The drill was {review.name}: {review.text}",
        account_of(review, told, plan, rate),
        json_of(review, told),
    )


def _told(span: AlarmSpan, alone_us: int) -> Told:
    seen_s, over_s = (None if at_us is None else at_us / US_PER_S for at_us in (span.seen_us, span.over_us))
    return Told(span.level, span.text, span.cause, alone_us / US_PER_S, seen_s, over_s, span.kind in _OWN)


def demonstrate(port: socket.socket, rate: float, tell: Tell, opened: Open | None) -> None:
    """Show the demonstration on `port` as `serve` does, with a log that goes when it ends.

    `opened` is called with the address of the wall when it is there.
    """
    file = demo_plan()
    clock = Clock()
    plan = plan_moved_to(file.plan, clock.now())
    shown = Played(demo_events(plan, DEMO_SEED), clock.now(), rate, demo=True)
    with tempfile.TemporaryDirectory(prefix="festoon-", ignore_cleanup_errors=True) as folder:
        serve([PlanFile(file.name, text_of(plan, file.text), plan)], port, folder, shown, tell, opened)


def demo_plan() -> PlanFile:
    """The demonstration's plan: beside the drill in a wheel, among the fixtures in a checkout."""
    packaged = Path(adapters.drill.__file__).with_name("demo.plan.toml")
    path = packaged if packaged.is_file() else Path(__file__).parents[1] / "fixtures/plans/larkspur.plan.toml"
    text = path.read_text(encoding="utf-8")
    return PlanFile(path.name, text, parse_plan(text, path.name))


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
    the person who started it should read, a line at a time; `opened` the address of the first wall when it is there.
    With a `certificate` it speaks TLS; `at_terminal` says that what is told is not kept. `archive` is the address of
    an archive to which the log is forwarded, or a file that holds it. Raises one of FAULTS.
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
    server = WebServer(app, lambda: _tell_addresses(list(runs), way_in, tell, opened, at_terminal, contacts), context)
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
    feeds = [asyncio.create_task(_bring(show.feed, show)) for show in shows if show.feed is not None]
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


async def _bring(feed: Feed, show: Show) -> None:
    await supervise(feed, post_to(show.run), show.clock)


def _tell_addresses(
    run_ids: Sequence[str],
    way_in: Entrance,
    tell: Tell,
    opened: Open | None,
    at_terminal: bool,
    contacts: Container[str],
) -> None:
    here = way_in.here
    for run_id in run_ids:
        tell(f"{run_id}\n  wall   {here}/wall?run={run_id}\n  booth  {here}/booth?run={run_id}")
        if run_id in contacts:
            tell(f"  roll call of its contacts  {here}/rollcall?run={run_id}")
    if run_ids:
        tell(f"all runs\n  lobby  {here}/lobby")
    tell(f"plans\n  plan   {here}/plan")
    tell(f"the log\n  library {here}/library")
    how = way_in.how_to_pair(at_terminal=at_terminal)
    if how is not None:
        tell(how)
    tell("Stop with Ctrl-C.")
    _log.info("serving", extra={"address": here, "others": way_in.others, "runs": list(run_ids)})
    if opened is not None:
        opened(f"{here}/wall?run={run_ids[0]}" if run_ids else f"{here}/library")


def _show(log: RunLog, file: PlanFile, played: Played | None, tell: Tell, counters: Counters) -> Show:
    run_id = _stored_run(log, file, tell)
    if played is None:
        clock = Clock()
        run = CountedRun(run_id, file.plan, clock, log, Hub(), counters)
        run.warn("damage", " ".join(log.lacking(run_id)) or None)
        return Show(run, clock, None)
    stored = log.events(run_id)
    clock = Clock(max([played.start, *(event.arrived for event in stored[-1:])]), played.rate)
    known = {each.event.id for each in stored}
    coming = [event for event in played.events if event.id not in known]
    feed = RecordingFeed(coming, ByClock(file.plan.zero), tell, played.rejected)
    run = CountedRun(run_id, file.plan, clock, log, Hub(), counters, demo=played.demo)
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
    with closing(RunLog.open(data)) as log:
        run_id = _stored_run(log, file, tell)
        asyncio.run(_write_result(log, run_id, Clock().now(), result))
    tell(f"{run_id}: the result is kept.")


async def _write_result(log: RunLog, run_id: str, now: datetime, result: str) -> None:
    await log.append(run_id, rollcall_event(now, result, None), now)


def _stored_run(log: RunLog, file: PlanFile, tell: Tell) -> str:
    """The id of the run of a plan, which is begun if the log has none that began with this very text."""
    name = run_name(file.plan)
    stored = {run.run_id: run.plan_text for run in log.runs()}
    number = 1
    run_id = name
    while (stored.get(run_id) or file.text) != file.text:
        number += 1
        run_id = f"{name}-{number}"
    if run_id in stored:
        _go_on(log, run_id, file, tell, planless=not stored[run_id])
        return run_id
    if number > 1:
        tell(f"{run_id}: a new run, because {file.name} is not the plan that {name} began with.")
    log.create_run(run_id, file.text, file.name, Clock().now())
    return run_id


def _go_on(log: RunLog, run_id: str, file: PlanFile, tell: Tell, *, planless: bool) -> None:
    """Take up a run of the log again, and say what of it is lost, in a note among its events too."""
    if planless:
        log.restore_plan(run_id, file.text, file.name)
        tell(f"{run_id}: its plan was lost with the damage of the log; {file.name} is its plan now.")
    log.note_damage(run_id, Clock().now())
    tell(f"{run_id}: goes on, with {len(log.events(run_id))} events in its log.")
    for line in log.lacking(run_id):
        _log.error("%s: %s", run_id, line)


def run_name(plan: Plan) -> str:
    """What a run of a plan is called: its title in plain letters, and the house's day and time of its start."""
    plain = unicodedata.normalize("NFKD", plan.title).encode("ascii", "ignore").decode().lower().replace("'", "")
    title = "-".join(re.findall("[a-z0-9]+", plain))[:NAME_LENGTH].strip("-")
    return f"{title or 'run'}-{house_clock(plan, 0.0):%Y-%m-%d-%H%M}"
