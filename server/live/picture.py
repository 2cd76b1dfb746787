"""What the desks have been shown, and what of a new view differs from it enough to be told.

Everything on the wire is rounded: times to a millisecond, rates and drifts to 1e-9, variances to six digits. An engine
that learns of one station changes every other by a hair; a part is told again only when something a desk shows of it
would move by more than the tolerances below. What is compared is always what was last *told*, so what is left untold
never adds up.
"""

from collections.abc import Callable, Iterable
from math import sqrt
from operator import attrgetter
from typing import Any, NamedTuple, TypeVar

from server.timeline.view import AlarmView, LinkView, PromptView, ReportView, RestartCard, RunView, StationView

NEGLIGIBLE_S = 0.005
"""A time or a length of film that differs by less is the same to a desk: a quarter of a contact's error. Chosen."""

NEGLIGIBLE_RATE = 1e-6
"""And a rate: it moves what lies 2 h ahead by 7 ms. Chosen."""

NEGLIGIBLE_PART = 0.05
"""And a standard deviation, as a part of itself. Chosen."""

LOOK_AHEAD_S = 600.0
"""Where the uncertainty of a pass is compared, beside now. The default of the forecast horizon."""

Json = dict[str, Any]
Part = TypeVar("Part", StationView, LinkView)


class _Told(NamedTuple):
    view: Any
    json: Json


class Picture:
    """The parts of a run as they were last told; `change` takes a new view and gives what to tell of it."""

    def __init__(self, view: RunView) -> None:
        self._t_s = view.t_s
        self._stations = {part.id: _Told(part, station_json(part)) for part in view.stations}
        self._links = {part.id: _Told(part, link_json(part)) for part in view.links}
        self._alarms = {part.key: _Told(part, alarm_json(part)) for part in view.alarms}
        self._prompts = view.prompts
        self._sources = dict(view.sources)
        self._hold_s = view.hold_s
        self._restart = view.restart
        self._reports = view.reports

    def as_json(self) -> Json:
        """The whole, in the shape of `RunView`."""
        return {
            "t_s": time_json(self._t_s),
            "stations": [told.json for told in self._stations.values()],
            "links": [told.json for told in self._links.values()],
            "alarms": [told.json for told in self._alarms.values()],
            "prompts": [prompt_json(prompt) for prompt in self._prompts],
            "sources": self._sources,
            "hold_s": time_json(self._hold_s),
            "restart": restart_json(self._restart),
            "reports": [report_json(report) for report in self._reports],
        }

    def change(self, view: RunView) -> Json:
        """What to tell of a new view, by key of a change message; nothing where nothing moved enough to be seen."""
        self._t_s = view.t_s
        alarms, gone = self._changed_alarms(view.alarms)
        told = {
            "stations": _changed(self._stations, view.stations, same_station, station_json),
            "links": _changed(self._links, view.links, same_link, link_json),
            "alarms": alarms,
            "gone": gone,
        }
        change: Json = {key: parts for key, parts in told.items() if parts}
        if not same_prompts(self._prompts, view.prompts):
            self._prompts = view.prompts
            change["prompts"] = [prompt_json(prompt) for prompt in view.prompts]
        if self._sources != view.sources:
            self._sources = dict(view.sources)
            change["sources"] = self._sources
        if self._hold_s != view.hold_s:
            self._hold_s = view.hold_s
            change["hold_s"] = time_json(view.hold_s)
        if not same_restart(self._restart, view.restart):
            self._restart = view.restart
            change["restart"] = restart_json(view.restart)
        if self._reports != view.reports:
            self._reports = view.reports
            change["reports"] = [report_json(report) for report in view.reports]
        return change

    def _changed_alarms(self, alarms: Iterable[AlarmView]) -> tuple[list[Json], list[str]]:
        before, self._alarms, changed = self._alarms, {}, []
        for alarm in alarms:
            told = before.pop(alarm.key, None)
            if told is None or told.view != alarm:
                told = _Told(alarm, alarm_json(alarm))
                changed.append(told.json)
            self._alarms[alarm.key] = told
        return changed, list(before)


def _changed(
    told: dict[str, _Told], parts: Iterable[Part], same: Callable[[Part, Part], bool], json: Callable[[Part], Json]
) -> list[Json]:
    """Those of the parts that differ from what was told, each with its id and what is new of it."""
    changed = []
    for part in parts:
        before = told.get(part.id)
        if before is None or not (before.view == part or same(before.view, part)):
            told[part.id] = now = _Told(part, json(part))
            changed.append(now.json if before is None else _changed_keys(before.json, now.json))
    return changed


def _changed_keys(before: Json, now: Json) -> Json:
    """What of a part has other values than were told, with its id: most of a station stays as it is."""
    return {key: value for key, value in now.items() if key == "id" or value != before[key]}


def same_station(told: StationView, now: StationView) -> bool:
    """Whether a desk that goes on animating from `told` shows what one that starts from `now` does."""
    passed_s = now.at_s - told.at_s
    return (
        _station_words(told) == _station_words(now)
        and abs(told.rate - now.rate) < NEGLIGIBLE_RATE
        and abs(told.count_s + passed_s * told.rate - now.count_s) < NEGLIGIBLE_S
        and _same_times(_station_times(told), _station_times(now), now.at_s)
        and (told.passes == now.passes or _same_passes(told.passes, now.passes))
        and _same_sd(told.head_sd_s, now.head_sd_s)
        and _same_sd(_eta_sd(told.eta_var, passed_s), _eta_sd(now.eta_var, 0.0))
        and _same_sd(_eta_sd(told.eta_var, passed_s + LOOK_AHEAD_S), _eta_sd(now.eta_var, LOOK_AHEAD_S))
    )


def same_link(told: LinkView, now: LinkView) -> bool:
    """The same of a link; the times its reserve is gone are told again when they move by 1 % of what is left."""
    if told.slack_s is None or told.drift is None or now.slack_s is None or now.drift is None:
        return told.slack_s == now.slack_s and told.reserve_s == now.reserve_s
    passed_s = now.at_s - told.at_s
    return (
        told.reserve_s == now.reserve_s
        and abs(told.drift - now.drift) < NEGLIGIBLE_RATE
        and abs(told.slack_s + passed_s * told.drift - now.slack_s) < NEGLIGIBLE_S
        and _same_sd(told.slack_sd_s, now.slack_sd_s)
        and _same_sd(told.drift_sd, now.drift_sd, NEGLIGIBLE_RATE)
        and _same_times(told.gone_s, now.gone_s, now.at_s, 0.01)
    )


def same_prompts(told: tuple[PromptView, ...], now: tuple[PromptView, ...]) -> bool:
    """Whether the list reads the same and no deadline moved."""
    return len(told) == len(now) and all(
        (one.kind, one.station, one.text, one.mark) == (other.kind, other.station, other.text, other.mark)
        and abs(one.from_s - other.from_s) < NEGLIGIBLE_S
        and abs(one.due_s - other.due_s) < NEGLIGIBLE_S
        for one, other in zip(told, now, strict=True)
    )


def same_restart(told: RestartCard | None, now: RestartCard | None) -> bool:
    """Whether the card reads the same, slack to a hundredth of a second."""
    if told is None or now is None:
        return told is now
    return told._replace(links=()) == now._replace(links=()) and [
        one._replace(slack_s=round(one.slack_s, 2)) for one in told.links
    ] == [one._replace(slack_s=round(one.slack_s, 2)) for one in now.links]


# This module looks at every part of every view: attrgetter and plain loops halve its time.
_station_words = attrgetter("phase", "running", "lamp", "douser")
_station_times = attrgetter(
    "started_s", "stopped_s", "lamp_s", "ahead_s", "opens_s", "closes_s", "head_s", "credits_s", "end_s", "clear_s"
)
Times = tuple[float | None, ...]


def _same_times(told: Times, now: Times, at_s: float, part: float = NEGLIGIBLE_RATE) -> bool:
    """Each within the tolerance at `at_s`, and `part` of how far it lies ahead."""
    for one, other in zip(told, now, strict=True):
        if one == other:
            continue
        if one is None or other is None or abs(one - other) >= NEGLIGIBLE_S + part * max(0.0, other - at_s):
            return False
    return True


def _same_passes(told: dict[str, float], now: dict[str, float]) -> bool:
    return told.keys() == now.keys() and all(abs(told[mark] - now[mark]) < NEGLIGIBLE_S for mark in told)


def _same_sd(told: float | None, now: float | None, least: float = NEGLIGIBLE_S) -> bool:
    if told is None or now is None:
        return told is now
    return abs(told - now) < max(least, NEGLIGIBLE_PART * told)


def _eta_sd(eta_var: tuple[float, float, float, float], d: float) -> float:
    """One standard deviation of a pass, in film seconds, `d` seconds after the view's `at_s` (view.py)."""
    a, b, c, w = eta_var
    return sqrt(max(0.0, a + d * (b + d * (c + d * w))))


def time_json(seconds: float | None) -> float | None:
    """Seconds as they are sent: to a millisecond."""
    return None if seconds is None else round(seconds, 3)


def station_json(view: StationView) -> Json:
    """A station as it is sent."""
    json = view._asdict() | {
        "rate": round(view.rate, 9),
        "eta_var": [float(f"{part:.6g}") for part in view.eta_var],
        "passes": {mark: round(at_s, 3) for mark, at_s in view.passes.items()},
    }
    return _rounded(json, _STATION_TIMES)


def link_json(view: LinkView) -> Json:
    """A link as it is sent."""
    json = view._asdict() | {
        "drift": _rate_json(view.drift),
        "drift_sd": _rate_json(view.drift_sd),
        "gone_s": [time_json(at_s) for at_s in view.gone_s],
    }
    return _rounded(json, ("at_s", "slack_s", "slack_sd_s", "reserve_s"))


def _rate_json(rate: float | None) -> float | None:
    return None if rate is None else round(rate, 9)


def alarm_json(view: AlarmView) -> Json:
    """An alarm as it is sent."""
    return _rounded(view._asdict(), ("since_s", "shelved_until_s"))


def prompt_json(view: PromptView) -> Json:
    """A prompt as it is sent."""
    return _rounded(view._asdict(), ("from_s", "due_s", "until_s"))


def report_json(view: ReportView) -> Json:
    """A house's report as it is sent."""
    return _rounded(view._asdict(), ("since_s", "over_s"))


def restart_json(card: RestartCard | None) -> Json | None:
    """The restart card as it is sent."""
    if card is None:
        return None
    return _rounded(card._asdict(), ("start_s",)) | {
        "stations": [_rounded(one._asdict(), ("ready_s",)) for one in card.stations],
        "links": [_rounded(one._asdict(), ("slack_s",)) for one in card.links],
    }


_STATION_TIMES = tuple(key for key in StationView._fields if key.endswith("_s"))


def _rounded(json: Json, times: Iterable[str]) -> Json:
    for key in times:
        json[key] = time_json(json[key])
    return json
