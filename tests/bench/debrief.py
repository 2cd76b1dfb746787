"""How fast a past show can be gone through: three hours, sixteen stations, forty marks, every contact wired.

    python tests/bench/debrief.py

prints, for both clocks, what it takes to open the show (once), to jump to any instant of it with the picture that a
page is sent, and to make its series and tables. One event in twenty came late, and ten were taken back.

Then how long somebody waits at the debrief desk of a server, on the clock, from the first question on: until the chart
is there, until the story is, and until all of it is. That is for this show, and for a smaller one of nine houses; for
each as it is opened for the first time, with the process that goes through runs still to begin, and as it is opened
after the server was started again, with its story kept.
"""

import asyncio
import os
import random
import sys
import tempfile
import time
from collections.abc import Callable
from contextlib import closing
from datetime import datetime, timedelta
from functools import partial
from pathlib import Path
from typing import get_args

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import orjson

from adapters.drill.demo import demo_events
from server.desk.apart import Apart, Opening
from server.live import Picture
from server.review.account import Account, Clock, Observed, Span
from server.review.reading import Reading
from server.review.report import report_html
from server.review.series import series_of
from server.runlog import RunLog, RunLogFault, StoredRuns
from server.timeline.events import Event, event_from_json
from server.timeline.plan import Plan, parse_plan
from server.timeline.viewing import view_of
from tests.bench.replay import events_of_the_show, plan_of_the_show, text_of_the_show
from tests.desk.past import FIXTURES, client_of

JUMPS = 300
LATEST_S = 120.0


RUN = "bench"
SMALL_EVENTS = 300
SMALL_PLAN = "larkspur.plan.toml"


def known_of_the_show(plan: Plan, chance: random.Random) -> list[tuple[datetime, Event]]:
    """The show of the replay's bench as a log has it: each event with when it arrived, in that order."""
    known = []
    for event in events_of_the_show(plan, chance):
        late_s = chance.uniform(1.0, LATEST_S) if chance.random() < 0.05 else 0.02
        known.append((event.t + timedelta(seconds=late_s), event))
    for event in chance.sample([event for _, event in known if event.kind == "mark_pass"], 10):
        t = event.t + timedelta(seconds=LATEST_S + 30.0)
        told = {
            "id": f"r {event.id}",
            "t": t,
            "kind": "retract",
            "retracts": event.id,
            "source": "tap:pad",
            "by": "Ada",
        }
        known.append((t, event_from_json(told)))
    return sorted(known, key=lambda one: one[0])


def account_of_the_show(plan: Plan, chance: random.Random) -> Account:
    """The same as an account."""
    known = known_of_the_show(plan, chance)
    return Account(
        plan,
        [
            Observed(seq, event, (arrived - plan.zero) // timedelta(microseconds=1))
            for seq, (arrived, event) in enumerate(known, 1)
        ],
    )


def took_ms(call: Callable[[], object], clock: Callable[[], float] = time.perf_counter) -> float:
    """How long a call takes."""
    began = clock()
    call()
    return (clock() - began) * 1e3


def picture(reading: Reading, at_us: int) -> bytes:
    """What a page is sent for an instant."""
    return orjson.dumps(Picture(view_of(reading.walk.at(at_us).fold)).as_json())


def instants(span: Span) -> list[int]:
    """Where to jump to, the same each time."""
    chance = random.Random(2)
    return [chance.randint(*span) for _ in range(JUMPS)]


def go_through(reading: Reading) -> None:
    """Open a show, jump about in it and read it, and print what each took."""
    clock = reading.clock
    print(f"{clock}: opened in {took_ms(lambda: reading.walk, time.process_time):.0f} ms of the processor")
    for what, timer in (("on the clock", time.perf_counter), ("of the processor", time.process_time)):
        ms = sorted(took_ms(partial(picture, reading, at), timer) for at in instants(reading.walk.span))
        middle, most = ms[JUMPS // 2], ms[JUMPS * 99 // 100]
        print(f"{clock}: a jump takes {middle:.1f} ms {what}, {most:.1f} in 99 of 100, {ms[-1]:.1f} at most")
    series_ms = took_ms(lambda: orjson.dumps(series_of(reading, 400)), time.process_time)
    tables_ms = took_ms(lambda: reading.tables, time.process_time)
    report_ms = took_ms(lambda: report_html(reading), time.process_time)
    print(f"{clock}: series {series_ms:.0f} ms, tables {tables_ms:.0f} ms, report {report_ms:.0f} ms, of the processor")


async def write_down(folder: str, plan_text: str, known: list[tuple[datetime, Event]]) -> None:
    """Put a show into a log."""
    with closing(RunLog.open(folder)) as log:
        log.create_run(RUN, plan_text, "bench.plan.toml", parse_plan(plan_text, "bench").zero)
        await asyncio.gather(*(log.append(RUN, event, arrived) for arrived, event in known))


async def open_desk(folder: str) -> dict[str, float]:
    """Ask what the debrief desk asks, in its order, of a server that was just started; milliseconds on the clock."""
    opening = Opening(StoredRuns.reading, folder, (RunLogFault,))
    with closing(RunLog.open(folder)) as log, closing(Apart(opening)) as apart:
        async with client_of(log, apart=apart) as client:
            began = time.perf_counter()
            first = (await client.get(f"/api/library/{RUN}/first")).json()
            waits = {"the chart": (time.perf_counter() - began) * 1e3}
            if first["story"] is None:
                (await client.get(f"/api/library/{RUN}/story")).raise_for_status()
            waits["the story"] = (time.perf_counter() - began) * 1e3
            rest = ("series?points=600", "events", "tables", "state?at_s=0")
            for answer in await asyncio.gather(*(client.get(f"/api/debriefs/{RUN}/{one}") for one in rest)):
                answer.raise_for_status()
            waits["all of it"] = (time.perf_counter() - began) * 1e3
    return waits


def open_at_the_desk(plan_text: str, known: list[tuple[datetime, Event]]) -> None:
    """Open a show for the first time and again, and print how long each part took."""
    houses = len(parse_plan(plan_text, "bench").stations)
    with tempfile.TemporaryDirectory() as folder:
        asyncio.run(write_down(folder, plan_text, known))
        for how in ("for the first time", "with its story kept"):
            waits = ", ".join(f"{what} {ms:.0f} ms" for what, ms in asyncio.run(open_desk(folder)).items())
            print(f"{len(known)} events of {houses} houses opened {how}: {waits} (load {os.getloadavg()[0]:.1f})")


def main() -> None:
    """Go through the show and print what it took."""
    small_text = (FIXTURES / "plans" / SMALL_PLAN).read_text(encoding="utf-8")
    small = demo_events(parse_plan(small_text, SMALL_PLAN), 4)[:SMALL_EVENTS]
    open_at_the_desk(small_text, [(event.t, event) for event in small])
    open_at_the_desk(text_of_the_show(), known_of_the_show(plan_of_the_show(), random.Random(1)))
    plan = plan_of_the_show()
    account = account_of_the_show(plan, random.Random(1))
    span = account.span
    hours = (span.to_us - span.from_us) / 3.6e9
    print(f"{hours:.2f} h of show, {len(plan.stations)} stations, {len(account.observed)} events")
    for clock in get_args(Clock):
        go_through(Reading(account, clock))


if __name__ == "__main__":
    main()
