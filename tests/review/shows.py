"""A small show with what a debrief is for: a late tap, a wrong one taken back, alarms, acknowledgements, notes."""

from datetime import timedelta

from server.review.account import Account, Observed
from server.timeline.events import Event
from server.timeline.plan import Plan
from tests.timeline.story import HEAD_S, TRAILER_S, TRANSIT_S, event, lamps, plan_of, starts

LATE_S = 30.0


def plan() -> Plan:
    """Three stations, cues by tap; no path is known to be wrong."""
    return plan_of(3, timing="tap_lag_s = 0.0")


def seen(plan: Plan, at_s: float, mark: str, station: str, **more: object) -> Event:
    return event(plan, at_s, "mark_pass", station, mark=mark, source="tap:pad", sigma_s=0.05, **more)


def events(plan: Plan) -> list[tuple[Event, float]]:
    """Every event with the seconds by which it arrived late, in the order of arrival."""
    heads = [HEAD_S + k * TRANSIT_S for k in range(3)]
    told: list[tuple[Event, float]] = [(one, 0.02) for one in starts(plan)]
    told += [(one, 0.02) for one in lamps(plan) if one.station != "b"]
    told += [
        (seen(plan, heads[0], "t1", "a", by="Ada"), 0.5),
        (seen(plan, heads[1] + 0.4, "t1", "b", by="Ada"), LATE_S),
        (event(plan, heads[1] + 20.0, "lamp_lit", "b"), 0.02),
        (event(plan, heads[1] + 12.0, "ack", alarm="strike_missed:b", by="Ada"), 0.5),
        (seen(plan, heads[2] - 9.0, "t1", "c", id="wrong", by="Bo"), 0.5),
        (event(plan, heads[2] - 2.0, "retract", retracts="wrong", by="Bo"), 0.5),
        (seen(plan, heads[2] + 0.4, "t1", "c", by="Bo"), 0.5),
        (seen(plan, heads[0] + TRAILER_S, "t2", "a", by="Ada"), 0.5),
        (seen(plan, heads[1] + TRAILER_S + 0.4, "t2", "b", by="Ada"), 0.5),
        (event(plan, 300.0, "note", text="b ran late at its lamp", by="Ada"), 0.5),
        (seen(plan, heads[2] + TRAILER_S + 0.4, "t2", "c", by="Bo"), 0.5),
        (event(plan, 500.0, "chain_stop", source="tap:pad"), 0.5),
        *((event(plan, 500.0 + 0.1 * k, "motor_stop", station), 0.02) for k, station in enumerate("abc")),
    ]
    return sorted(told, key=lambda one: one[0].t + timedelta(seconds=one[1]))


def account(plan: Plan) -> Account:
    """The account of that show."""
    return Account(
        plan,
        [
            Observed(seq, one, (one.t - plan.zero) // timedelta(microseconds=1) + round(late_s * 1e6))
            for seq, (one, late_s) in enumerate(events(plan), 1)
        ],
    )
