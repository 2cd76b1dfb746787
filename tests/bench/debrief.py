"""How fast a past show can be gone through: three hours, sixteen stations, forty marks, every contact wired.

    python tests/bench/debrief.py

prints, for both clocks, what it takes to open the show (once), to jump to any instant of it with the picture that a
page is sent, and to make its series and tables. One event in twenty came late, and ten were taken back.
"""

import random
import sys
import time
from collections.abc import Callable
from datetime import timedelta
from functools import partial
from pathlib import Path
from typing import get_args

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

import orjson

from server.live import Picture
from server.review.account import Account, Clock, Observed, Span
from server.review.reading import Reading
from server.review.report import report_html
from server.review.series import series_of
from server.timeline.events import event_from_json
from server.timeline.plan import Plan
from server.timeline.viewing import view_of
from tests.bench.replay import events_of_the_show, plan_of_the_show

JUMPS = 300
LATEST_S = 120.0


def account_of_the_show(plan: Plan, chance: random.Random) -> Account:
    """The show of the replay's bench as a log has it."""
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
    known.sort(key=lambda one: one[0])
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


def main() -> None:
    """Go through the show and print what it took."""
    plan = plan_of_the_show()
    account = account_of_the_show(plan, random.Random(1))
    span = account.span
    hours = (span.to_us - span.from_us) / 3.6e9
    print(f"{hours:.2f} h of show, {len(plan.stations)} stations, {len(account.observed)} events")
    for clock in get_args(Clock):
        go_through(Reading(account, clock))


if __name__ == "__main__":
    main()
