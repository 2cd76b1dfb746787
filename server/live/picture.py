"""What the desks have been shown, and what of a new view differs from it enough to be told.

An engine that learns of one station changes every other by a hair. A figure is sent again only when what a screen shows
of it moves by a step (figures.py). Then it goes by itself, or with the few that belong with it. What is compared is
always what was last *told*, so what is left untold never adds up.
"""

from collections.abc import Callable, Iterable, Sequence
from math import sqrt
from operator import attrgetter
from typing import Any, NamedTuple, TypeVar

from server.live.figures import (
    EXPECTED,
    GONE_STEP_S,
    SLACK_STEP_S,
    TIME_STEP_S,
    Json,
    alarm_json,
    expected_json,
    gone_json,
    link_json,
    motion_json,
    prompt_json,
    report_json,
    restart_json,
    seen_json,
    slack_json,
    station_json,
    time_json,
)
from server.timeline.outlook import variance_at
from server.timeline.view import AlarmView, LinkView, PromptView, RunView, StationView

NEGLIGIBLE_PART = 0.05
"""A standard deviation that differs by less than this part of itself is the same to a reader. Chosen."""

NEGLIGIBLE_LEFT = 0.01
"""And when a reserve is likely gone, by this part of what is left: it is told as "in about". Chosen."""

LOOK_AHEAD_S = 600.0
"""Slack is compared now and so long after: nobody looks again while nothing happens. The default of the horizon."""

Part = TypeVar("Part", StationView, LinkView)


class _Told(NamedTuple):
    """A part as it was last looked at, and its figures as they were last told."""

    view: Any
    json: Json


class Picture:
    """The parts of a run as they were last told; `change` takes a new view and gives what to tell of it."""

    def __init__(self, view: RunView) -> None:
        self._view = view
        self._stations = {part.id: _Told(part, station_json(part)) for part in view.stations}
        self._links = {part.id: _Told(part, link_json(part)) for part in view.links}
        self._alarms = {part.key: _Told(part, alarm_json(part)) for part in view.alarms}
        self._prompts = {key: _Told(part, {"key": key} | prompt_json(part)) for key, part in _by_key(view.prompts)}
        self._restart = restart_json(view.restart)

    def as_json(self) -> Json:
        """The whole, in the shape of `RunView`; prompts by deadline, those of one deadline in film order."""
        view, place = self._view, {id_: place for place, id_ in enumerate(self._stations)}
        prompts = (told.json for told in self._prompts.values())
        return {
            "t_s": time_json(view.t_s),
            "stations": [told.json for told in self._stations.values()],
            "links": [told.json for told in self._links.values()],
            "alarms": [told.json for told in self._alarms.values()],
            "prompts": sorted(prompts, key=lambda one: (one["due_s"], place.get(one["station"], -1), one["key"])),
            "sources": view.sources,
            "hold_s": time_json(view.hold_s),
            "restart": self._restart,
            "reports": [report_json(report) for report in view.reports],
        }

    def change(self, view: RunView) -> Json:
        """What to tell of a new view, by key of a change message; nothing where nothing moved enough to be seen."""
        before, self._view = self._view, view
        told: Json = {}
        if view.stations is not before.stations:
            told["stations"] = _moved(self._stations, view.stations, view.t_s, station_change, station_json)
        if view.links is not before.links:
            told["links"] = _moved(self._links, view.links, view.t_s, link_change, link_json)
        if view.alarms is not before.alarms:
            told["alarms"], told["gone"] = self._changed_alarms(view.alarms)
        if view.prompts is not before.prompts:
            told["prompts"], told["prompts_gone"] = self._changed_prompts(view.prompts)
        change: Json = {key: parts for key, parts in told.items() if parts}
        if view.sources != before.sources:
            change["sources"] = view.sources
        if view.hold_s != before.hold_s:
            change["hold_s"] = time_json(view.hold_s)
        if view.restart is not before.restart and (restart := restart_json(view.restart)) != self._restart:
            change["restart"] = self._restart = restart
        if view.reports != before.reports:
            change["reports"] = [report_json(report) for report in view.reports]
        return change

    def _changed_alarms(self, alarms: Iterable[AlarmView]) -> tuple[list[Json], list[str]]:
        before, self._alarms = self._alarms, {}
        changed = []
        for alarm in alarms:
            told = before.pop(alarm.key, None)
            if told is None or told.view != alarm:
                now = alarm_json(alarm)
                changed.append(now if told is None else {"key": alarm.key} | _differing(told.json, now))
                told = _Told(alarm, now)
            self._alarms[alarm.key] = told
        return changed, list(before)

    def _changed_prompts(self, prompts: Iterable[PromptView]) -> tuple[list[Json], list[str]]:
        before, self._prompts = self._prompts, {}
        changed = []
        for key, prompt in _by_key(prompts):
            told = before.pop(key, None)
            if told is None or not (told.view == prompt or same_prompt(told.json, prompt)):
                now = {"key": key} | prompt_json(prompt)
                changed.append(now if told is None else {"key": key} | _differing(told.json, now))
                told = _Told(prompt, now)
            self._prompts[key] = told if told.view is prompt else _Told(prompt, told.json)
        return changed, list(before)


def _moved(
    told: dict[str, _Told],
    parts: Iterable[Part],
    t_s: float,
    change: Callable[[Json, Part, Part, float], Json],
    json: Callable[[Part], Json],
) -> list[Json]:
    """What is new of each of the parts, with its id, for those of which anything is."""
    changed = []
    for part in parts:
        before = told.get(part.id)
        if before is None:
            told[part.id] = _Told(part, json(part))
            changed.append(told[part.id].json)
        elif before.view is not part:
            new = change(before.json, before.view, part, t_s)
            told[part.id] = _Told(part, before.json | new if new else before.json)
            if new:
                changed.append({"id": part.id} | new)
    return changed


def station_change(told: Json, before: StationView, now: StationView, t_s: float) -> Json:
    """What of a station a desk would show otherwise than by what it was told, which was right for `before`."""
    new: Json = {}
    for key, expected_s in zip(EXPECTED, _expected(now), strict=True):
        if _is_off(told[key], expected_s):
            new[key] = expected_json(expected_s)
    if _seen(before) != _seen(now):
        new |= _differing(told, seen_json(now))
    return new if same_motion(told, now, t_s) else new | motion_json(now)


def same_motion(told: Json, now: StationView, t_s: float) -> bool:
    """Whether a desk that goes on from `told` has the film where it is, and every mark to come when it comes.

    Both go on evenly: what is right now and at the end of the film is right between them.
    """
    if (told["rate"] > 0.0) is not (now.rate > 0.0):
        return False
    after_told_s, after_now_s = t_s - told["at_s"], t_s - now.at_s
    place_s = told["count_s"] + after_told_s * told["rate"] - told["ahead_s"]
    off_s = place_s - (now.count_s + after_now_s * now.rate - now.ahead_s)
    left_s = 0.0 if now.clear_s is None else max(now.clear_s - t_s, 0.0)
    if abs(off_s) >= TIME_STEP_S or abs(off_s + left_s * (told["rate"] - now.rate)) >= TIME_STEP_S:
        return False
    told_var, var = told["eta_var"], now.eta_var
    return _is_same_sd(_sd_at(told_var, after_told_s), _sd_at(var, after_now_s), TIME_STEP_S) and _is_same_sd(
        _sd_at(told_var, after_told_s + left_s), _sd_at(var, after_now_s + left_s), TIME_STEP_S
    )


def link_change(told: Json, _before: LinkView, now: LinkView, t_s: float) -> Json:
    """The same of a link."""
    new: Json = {} if told["reserve_s"] == now.reserve_s else {"reserve_s": now.reserve_s}
    likely_s = now.gone_s[1]
    step_s = GONE_STEP_S + NEGLIGIBLE_LEFT * max((likely_s or 0.0) - t_s, 0.0)
    if _is_off(told["gone_s"], likely_s, step_s):
        new["gone_s"] = gone_json(now)
    return new if same_slack(told, now, t_s) else new | slack_json(now)


def same_slack(told: Json, now: LinkView, t_s: float) -> bool:
    """Whether a desk that goes on from `told` shows the slack there is, and how sure that is, and does for a while."""
    if told["slack_s"] is None or now.slack_s is None:
        return told["slack_s"] is now.slack_s
    told_drift, drift = told["drift"] or 0.0, now.drift or 0.0
    after_told_s, after_now_s = t_s - told["at_s"], t_s - now.at_s
    off_s = told["slack_s"] + after_told_s * told_drift - (now.slack_s + after_now_s * drift)
    if abs(off_s) >= SLACK_STEP_S or abs(off_s + LOOK_AHEAD_S * (told_drift - drift)) >= SLACK_STEP_S:
        return False
    told_var, var = told["slack_var"], now.slack_var
    return var is not None and all(
        _is_same_sd(_sd_at(told_var, after_told_s + more_s), _sd_at(var, after_now_s + more_s), SLACK_STEP_S)
        for more_s in (0.0, LOOK_AHEAD_S)
    )


def same_prompt(told: Json, now: PromptView) -> bool:
    """Whether a prompt reads the same and no time of it moved by a step."""
    return bool(
        told["text"] == now.text
        and not _is_off(told["due_s"], now.due_s)
        and not _is_off(told["from_s"], now.from_s)
        and not _is_off(told["until_s"], now.until_s)
    )


def _by_key(prompts: Iterable[PromptView]) -> Iterable[tuple[str, PromptView]]:
    """Each with what names it on the wire: of one kind, gate and mark there may be several, as of two intermissions."""
    known: dict[str, int] = {}
    for prompt in prompts:
        named = f"{prompt.kind} {prompt.station}{f' {prompt.mark}' if prompt.mark else ''}"
        count = known[named] = known.get(named, 0) + 1
        yield named if count == 1 else f"{named} {count}", prompt


_expected = attrgetter(*EXPECTED)
_seen = attrgetter("phase", "running", "started_s", "stopped_s", "lamp", "lamp_s", "douser", "passes")


def _differing(before: Json, now: Json) -> Json:
    return {key: value for key, value in now.items() if value != before[key]}


def _is_off(told: float | None, now: float | None, step_s: float = TIME_STEP_S) -> bool:
    if told is None or now is None:
        return told is not now
    return abs(told - now) >= step_s


def _is_same_sd(told: float, now: float, step: float) -> bool:
    return abs(told - now) < max(step, NEGLIGIBLE_PART * told)


def _sd_at(variance: Sequence[float], d: float) -> float:
    """One standard deviation `d` seconds after the instant of its variance's coefficients (view.py)."""
    return sqrt(variance_at(variance, d))
