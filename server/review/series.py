"""A whole run as series for charts, as plain JSON values; every time is in seconds after the plan's zero."""

import math
from typing import Any

from server.review.account import Account
from server.review.alarm_spans import AlarmSpan
from server.review.passes import Pass, seen_passes_of
from server.review.reading import Reading
from server.review.tables import rounded, seconds
from server.timeline.estimate import US_PER_S

Json = dict[str, Any]


def series_of(reading: Reading, points: int) -> Json:
    """The passes, the slack of every link at `points` instants, the phases and the alarms of a run."""
    span = reading.walk.span
    return {
        "clock": reading.clock,
        "from_s": seconds(span.from_us),
        "to_s": seconds(span.to_us),
        "passes": [_pass_json(one) for one in reading.passes],
        "slack": _slack_json(reading, points),
        "phases": [
            {"station": reading.plan.stations[k].id, "phase": phase, "from_s": seconds(at)}
            for at, k, phase in reading.walk.phases
        ],
        "alarms": [alarm_json(one) for one in reading.walk.spans],
    }


def first_series_of(account: Account) -> Json:
    """The same before the run was gone through: its passes as planned and as told, and nothing that is reckoned."""
    return {
        "clock": "now",
        "from_s": seconds(account.span.from_us),
        "to_s": seconds(account.span.to_us),
        "passes": [_pass_json(one) for one in seen_passes_of(account)],
        "slack": {"t_s": [], "links": []},
        "phases": [],
        "alarms": [],
    }


def _pass_json(one: Pass) -> Json:
    return {
        "station": one.station,
        "mark": one.mark,
        "planned_s": rounded(seconds(one.planned_us)),
        "expected_s": rounded(seconds(one.expected_us)),
        "expected_sd_s": rounded(one.expected_sd_s),
        "observed_s": seconds(one.observed_us),
        "believed": one.believed,
    }


def _slack_json(reading: Reading, points: int) -> Json:
    grid = reading.grid_us(points)
    slack, sd = reading.walk.slack(grid)
    links = [
        {
            "id": link.id,
            "reserve_s": link.reserve_s,
            "slack_s": [_number(value) for value in slack[:, i].tolist()],
            "sd_s": [_number(value) for value in sd[:, i].tolist()],
        }
        for i, link in enumerate(reading.plan.links)
    ]
    return {"t_s": [seconds(at) for at in grid], "links": links}


def _number(value: float) -> float | None:
    return None if math.isnan(value) else rounded(value)


def alarm_json(one: AlarmSpan) -> Json:
    """One alarm: when it was told, seen and over, and what a person does about it."""
    return {
        "key": one.key,
        "kind": one.kind,
        "subject": one.subject,
        "level": one.level,
        "cause": one.cause,
        "text": one.text,
        "todo": one.todo,
        "since_s": seconds(one.since_us),
        "told_s": seconds(one.told_us),
        "act_s": seconds(one.act_us),
        "seen_s": seconds(one.seen_us),
        "seen_by": one.seen_by,
        "over_s": seconds(one.over_us),
        "lasted_s": None if one.over_us is None else (one.over_us - one.told_us) / US_PER_S,
    }
