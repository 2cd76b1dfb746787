"""From a fold to what desks are shown and to the summary that ends a replay."""

from collections.abc import Callable, Sequence
from operator import is_
from typing import Final, Generic, TypedDict, TypeVar

from server.timeline.alarms import Alarm
from server.timeline.condition import RANK
from server.timeline.estimate import US_PER_S
from server.timeline.evidence import Evidence
from server.timeline.fold import Fold
from server.timeline.outlook import Outlook, variance_at
from server.timeline.people import Report
from server.timeline.prompts import prompts_of
from server.timeline.prospect import Gone
from server.timeline.restart import restart_card
from server.timeline.starts import starts_due, unseen_starts
from server.timeline.steps import ALWAYS_US
from server.timeline.view import AlarmView, LinkView, Phase, ReportView, RunView, StationView
from server.timeline.wording import names_places, place_and_what

Part = TypeVar("Part")

_PHASES_SHOWN: Final[tuple[Phase, ...]] = ("showing", "tail", "clear")
"""Those whose beginning stands for a mark that nobody saw."""


class GoneIn(TypedDict):
    """Seconds until a reserve is gone with 5, 50 and 95 % probability; None beyond the horizon."""

    p05: float | None
    p50: float | None
    p95: float | None


class LinkSummary(TypedDict):
    """One link at the end of a replay; all but its id is None where its film has a free end."""

    id: str
    slack_s: float | None
    slack_sd_s: float | None
    drift_ppm: float | None
    drift_sd_ppm: float | None
    gone_in_s: GoneIn | None


def view_of(fold: Fold) -> RunView:
    """Return the whole run as of the fold's time; before the first event or tick that time is zero."""
    return Viewer().view(fold)


class Viewer:
    """Views of one run as it goes on, each of which makes anew only what may have changed since the one before.

    A part that did not change is the very object that it was, so that whoever compares two views need not look into it.
    Evidence, its prospect, and the states of stations and alarms are never changed once a fold has them: they are known
    by identity.
    """

    def __init__(self) -> None:
        self._view = RunView(0.0, (), (), (), (), {})
        self._gone_us: list[Gone] = []
        self._evidence: Evidence | None = None
        self._phases: tuple[list[Phase], list[dict[Phase, int]]] = ([], [])
        self._stations: _Parts[StationView] = _Parts()
        self._links: _Parts[LinkView] = _Parts()
        self._told: list[Alarm] = []

    def view(self, fold: Fold) -> RunView:
        """Return the whole run as of the fold's time, which may be of another fold of the same run each time."""
        evidence, before = fold.evidence, self._view
        phases, gone_us = (fold.phases, fold.phase_since_us), _gone_us(fold)
        same = evidence is self._evidence and phases == self._phases
        reports = tuple(_report(fold, report) for report in evidence.people.reports)
        alarms = list(fold.board.alarms.values())
        self._view = RunView(
            t_s=_s(fold.at_us) if fold.began else 0.0,
            stations=before.stations if same else self._stations_of(fold),
            links=before.links if same and gone_us is self._gone_us else self.links(fold),
            # Whether people are told of one alarm depends on the others.
            alarms=before.alarms if _are_same(alarms, self._told) else _alarms(fold),
            prompts=before.prompts if same else prompts_of(evidence, fold.phases),
            sources=before.sources if same else {source: state.up for source, state in evidence.sources.items()},
            hold_s=evidence.hold_s,
            restart=before.restart if same else restart_card(evidence),
            reports=before.reports if reports == before.reports else reports,
        )
        self._evidence, self._gone_us, self._told = evidence, gone_us, alarms
        if not same:  # a fold goes on with the same lists
            self._phases = (fold.phases.copy(), [since.copy() for since in fold.phase_since_us])
        return self._view

    def _stations_of(self, fold: Fold) -> tuple[StationView, ...]:
        prospect = fold.evidence.prospect
        made_of: list[tuple[object, ...]] = [
            (state, prospect, phase, *map(since_us.get, _PHASES_SHOWN))
            for state, phase, since_us in zip(fold.evidence.stations, fold.phases, fold.phase_since_us, strict=True)
        ]
        return self._stations.renewed(made_of, lambda k: _station(fold, k))

    def links(self, fold: Fold) -> tuple[LinkView, ...]:
        """Return its links alone."""
        unseen = unseen_starts(fold.evidence, starts_due(fold.evidence))
        prospect, gone_us = fold.evidence.prospect, _gone_us(fold)
        made_of: list[tuple[object, ...]] = [
            (prospect, gone, fold.phases[i] != "clear" and i not in unseen and i + 1 not in unseen)
            for i, gone in enumerate(gone_us)
        ]
        return self._links.renewed(made_of, lambda i: _link(fold, i, gone_us[i], known=bool(made_of[i][2])))


class _Parts(Generic[Part]):
    """Parts of a view as they were made last, and what each was made of."""

    def __init__(self) -> None:
        self._made_of: list[tuple[object, ...]] = []
        self._parts: tuple[Part, ...] = ()

    def renewed(self, made_of: list[tuple[object, ...]], make: Callable[[int], Part]) -> tuple[Part, ...]:
        """Make those of which something is another object; where that is none, it is the tuple that it was."""
        before = self._made_of if len(self._made_of) == len(made_of) else [()] * len(made_of)
        changed = [i for i, (one, other) in enumerate(zip(before, made_of, strict=True)) if not _are_same(one, other)]
        if changed or len(self._parts) != len(made_of):
            parts = [*self._parts] if len(self._parts) == len(made_of) else [make(i) for i in range(len(made_of))]
            for i in changed:
                parts[i] = make(i)
            self._parts = tuple(parts)
        self._made_of = made_of
        return self._parts


def _are_same(one: Sequence[object], other: Sequence[object]) -> bool:
    return len(one) == len(other) and all(map(is_, one, other))


def _report(fold: Fold, report: Report) -> ReportView:
    """A report, and who has it: of one that is over, who had it then is in the log."""
    station = fold.plan.stations[report.station].id
    alarm = fold.board.alarms.get(f"house_report:{station}")
    return ReportView(
        station=station,
        what=report.what,
        text=report.text,
        by=report.by,
        since_s=_s(report.since_us),
        acked_by=None if alarm is None or report.over_us is not None else alarm.acked_by,
        over_s=_s_or_none(report.over_us),
        over_by=report.over_by,
    )


def _s(at_us: int) -> float:
    return at_us / US_PER_S


def _s_or_none(at_us: int | None) -> float | None:
    return None if at_us is None else at_us / US_PER_S


def _station(fold: Fold, k: int) -> StationView:
    evidence = fold.evidence
    state, outlook, passes = evidence.stations[k], evidence.outlook, evidence.stations[k].passes

    def when_s(mark: str, phase: Phase | None = None) -> float | None:
        """When a mark was seen; else when the station entered the phase that it begins; else when it is expected."""
        entered_us = None if phase is None or mark in passes else fold.phase_since_us[k].get(phase)
        return _s_or_none(evidence.all_reached_us(mark)[k] if entered_us is None else entered_us)

    return StationView(
        id=fold.plan.stations[k].id,
        phase=fold.phases[k],
        running=state.running,
        started_s=_s_or_none(state.started_us),
        stopped_s=_s_or_none(state.stopped_us),
        lamp="lit" if state.lit else "out",
        lamp_s=_s_or_none(state.lamp_us),
        douser=state.douser,
        at_s=_at_s(outlook),
        count_s=outlook.fed_s[k],
        rate=outlook.rate[k],
        ahead_s=outlook.gate_s[k],
        eta_var=outlook.eta_var[k],
        passes={mark: at_us / US_PER_S for mark, at_us in passes.items()},
        head_s=when_s("head", "showing"),
        credits_s=None if fold.plan.credits is None else when_s(fold.plan.credits),
        end_s=when_s("end", "tail"),
        clear_s=when_s("tail_end", "clear"),
    )


def _at_s(outlook: Outlook) -> float:
    return _s(outlook.at_us) if outlook.at_us > ALWAYS_US else 0.0


def _gone_us(fold: Fold) -> list[Gone]:
    outlook = fold.evidence.outlook
    since_s = _s(fold.at_us - outlook.at_us) if any(outlook.rate) else 0.0
    return fold.evidence.prospect.gone_us(since_s)


def _link(fold: Fold, i: int, gone_us: Gone, *, known: bool) -> LinkView:
    """A link; its slack is not `known` once the film's end has left the upstream gate, or where a start went unseen."""
    outlook, link = fold.evidence.outlook, fold.plan.links[i]
    if not known:
        return LinkView(link.id, _at_s(outlook), None, None, None, link.reserve_s, (None, None, None))
    return LinkView(
        id=link.id,
        at_s=_at_s(outlook),
        slack_s=outlook.slack[i],
        drift=outlook.drift[i],
        slack_var=outlook.slack_var[i],
        reserve_s=link.reserve_s,
        gone_s=(_s_or_none(gone_us[0.05]), _s_or_none(gone_us[0.50]), _s_or_none(gone_us[0.95])),
    )


def _alarms(fold: Fold) -> tuple[AlarmView, ...]:
    views = [_alarm(fold, alarm) for alarm in fold.board.alarms.values()]
    order = _film_order(fold)
    return tuple(
        sorted(
            views,
            key=lambda view: (
                view.state == "returned",
                -RANK[view.level],
                view.since_s,
                order.get(view.subject, -1),
                view.key,
            ),
        )
    )


def _alarm(fold: Fold, alarm: Alarm) -> AlarmView:
    board = fold.board
    place, what = place_and_what(fold.plan, alarm.kind, alarm.subject, alarm.text)
    return AlarmView(
        key=alarm.key,
        kind=alarm.kind,
        subject=alarm.subject,
        level=alarm.level,
        state="returned" if not alarm.on else "acknowledged" if board.is_acked(alarm) else "unacknowledged",
        cause=alarm.cause,
        told=board.is_told(alarm) and alarm.shelved_until_us is None,
        since_s=_s(alarm.since_us),
        text=alarm.text,
        todo=alarm.todo,
        acked_by=alarm.acked_by,
        shelved_until_s=_s_or_none(alarm.shelved_until_us),
        off_s=None if alarm.on else _s(board.off_us(alarm)),
        place=place,
        what=what,
        names_places=names_places(alarm.kind, alarm.todo),
    )


def _film_order(fold: Fold) -> dict[str, int]:
    """Where stations and links lie along the film."""
    stations = [station.id for station in fold.plan.stations]
    return {id_: k for k, id_ in enumerate(stations)} | {link.id: k for k, link in enumerate(fold.plan.links)}


def summary_of(fold: Fold) -> dict[str, object]:
    """Return the `summary` of a replay without its `t`: stations, links and open alarms, as the format asks."""
    card = restart_card(fold.evidence)
    return {
        "stations": [_station_summary(fold, k) for k in range(len(fold.plan.stations))],
        "links": link_summaries(fold),
        "open_alarms": fold.board.open_keys(),
        "hold_s": fold.evidence.hold_s,
        "restart": None if card is None else card.as_json(),
    }


def _station_summary(fold: Fold, k: int) -> dict[str, object]:
    state = fold.evidence.stations[k]
    etas: dict[str, object] = {}
    for mark in fold.plan.marks:
        eta = fold.evidence.prospect.eta_us(k, mark.x_s)
        if eta is not None and eta[0] > fold.at_us and mark.x_s > state.latest_x_s:
            etas[mark.id] = {"s": _s(eta[0]), "sd": eta[1]}
    lamp = "lit" if state.lit else "out"
    return {"id": fold.plan.stations[k].id, "phase": fold.phases[k], "lamp": lamp, "etas": etas}


def link_summaries(fold: Fold) -> list[LinkSummary]:
    """Return what a replay says of each link at its end."""
    return [_link_summary(fold, i, view) for i, view in enumerate(Viewer().links(fold))]


def _link_summary(fold: Fold, i: int, view: LinkView) -> LinkSummary:
    if view.slack_s is None:
        return LinkSummary(id=view.id, slack_s=None, slack_sd_s=None, drift_ppm=None, drift_sd_ppm=None, gone_in_s=None)
    outlook = fold.evidence.outlook
    after_s = _s(fold.at_us) - view.at_s
    a, b, c, w = outlook.slack_var[i]
    return {
        "id": view.id,
        "slack_s": outlook.slack[i] + after_s * outlook.drift[i],
        "slack_sd_s": variance_at((a, b, c, w), after_s) ** 0.5,
        "drift_ppm": outlook.drift[i] * 1e6,
        "drift_sd_ppm": max(c + 3.0 * w * after_s, 0.0) ** 0.5 * 1e6,
        "gone_in_s": _gone_in_s(fold, view),
    }


def _gone_in_s(fold: Fold, view: LinkView) -> GoneIn | None:
    now_s, horizon_s = _s(fold.at_us), fold.plan.timing.forecast_horizon_s
    left = [None if gone is None else max(gone - now_s, 0.0) for gone in view.gone_s]
    near = [None if gone is None or gone > horizon_s else gone for gone in left]
    if all(gone is None for gone in near):
        return None
    return {"p05": near[0], "p50": near[1], "p95": near[2]}
