"""What of a new view is told, and how it is rounded."""

from typing import Any

import pytest

from server.live.picture import Picture, same_link, same_station, station_json
from server.timeline.view import AlarmView, LinkView, PromptView, RunView, StationView

STATION = StationView(
    id="a",
    phase="showing",
    running=True,
    started_s=0.02,
    stopped_s=None,
    lamp="lit",
    lamp_s=-30.0,
    douser="open",
    at_s=100.0,
    count_s=100.01234,
    rate=1.00012345678,
    ahead_s=0.0,
    eta_var=(4e-4, 0.0, 1e-8, 1e-15),
    passes={"head": 40.00049},
    opens_s=-50.0,
    closes_s=25.0,
    head_s=40.00049,
    head_sd_s=0.02,
    credits_s=None,
    end_s=7000.0,
    clear_s=7100.0,
)
LINK = LinkView("a>b", 100.0, 0.5, 0.1, 2e-4, 1e-5, 2.0, (None, 7600.0, 9000.0))
ALARM = AlarmView(
    "slack_loose:a>b", "slack_loose", "a>b", "watch", "unacknowledged", None, True, 90.0, "", "", None, None
)
PROMPT = PromptView("strike", "a", -90.0, -15.0, "Strike")
VIEW = RunView(100.0, (STATION, STATION._replace(id="b")), (LINK,), (ALARM,), (PROMPT,), {"contact:north": True})


def moved_on(station: StationView, seconds: float) -> StationView:
    """The same film at a later `at_s`, as an engine that learned nothing gives it (the polynomial shifted exactly)."""
    a, b, c, w = station.eta_var
    d = seconds
    later = (a + b * d + c * d**2 + w * d**3, b + 2 * c * d + 3 * w * d**2, c + 3 * w * d, w)
    return station._replace(at_s=station.at_s + d, count_s=station.count_s + d * station.rate, eta_var=later)


def test_what_only_went_on_is_not_told() -> None:
    """A view of the same film some seconds later needs no message: the desk has animated there already."""
    picture = Picture(VIEW)
    later = tuple(moved_on(station, 600.0) for station in VIEW.stations)
    link = LINK._replace(at_s=700.0, slack_s=0.5 + 600.0 * 2e-4)
    assert picture.change(VIEW._replace(t_s=700.0, stations=later, links=(link,))) == {}


def test_only_what_changed_is_told() -> None:
    """A lamp at one station is that lamp and nothing else."""
    changed = STATION._replace(id="b", lamp="out")
    change = Picture(VIEW).change(VIEW._replace(stations=(STATION, changed)))
    assert change == {"stations": [{"id": "b", "lamp": "out"}]}


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"count_s": 100.01234 + 0.004}, False),
        ({"count_s": 100.01234 + 0.006}, True),
        ({"rate": 1.00012345678 + 0.9e-6}, False),
        ({"rate": 1.00012345678 + 1.1e-6}, True),
        ({"end_s": 7000.0 + 0.010}, False),  # 6,900 s ahead: 5 ms and 1e-6 of it are 11.9 ms
        ({"end_s": 7000.0 + 0.013}, True),
        ({"end_s": None}, True),
        ({"head_s": 40.00049 + 0.004}, False),
        ({"head_s": 40.00049 + 0.006}, True),
        ({"eta_var": (6e-4, 0.0, 1e-8, 1e-15)}, False),  # 20.0 to 24.5 ms
        ({"eta_var": (9e-4, 0.0, 1e-8, 1e-15)}, True),  # 20.0 to 30.0 ms
        ({"eta_var": (4e-4, 0.0, 3e-8, 1e-15)}, True),  # 66 to 107 ms, 600 s ahead
        ({"head_sd_s": 0.024}, False),
        ({"head_sd_s": 0.026}, True),
        ({"phase": "tail"}, True),
        ({"passes": {"head": 40.001}}, False),
        ({"passes": {"head": 40.0, "t1": 41.0}}, True),
    ],
)
def test_a_station_is_told_when_a_desk_would_see_it(changes: dict[str, Any], told: bool) -> None:
    """What moves less than 5 ms, 1 ppm or a twentieth of its uncertainty is left untold; what moves more is not."""
    assert same_station(STATION, STATION._replace(**changes)) is not told


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"slack_s": 0.504}, False),
        ({"slack_s": 0.506}, True),
        ({"drift": 2.009e-4}, False),
        ({"drift": 2.011e-4}, True),
        ({"slack_sd_s": 0.104}, False),
        ({"slack_sd_s": 0.106}, True),
        ({"drift_sd": 1.2e-5}, True),
        ({"gone_s": (None, 7600.0 + 70.0, 9000.0)}, False),  # 1 % of the 7,500 s that are left is 75 s
        ({"gone_s": (None, 7600.0 + 80.0, 9000.0)}, True),
        ({"gone_s": (500.0, 7600.0, 9000.0)}, True),
        ({"reserve_s": 3.0}, True),
    ],
)
def test_a_link_is_told_when_a_desk_would_see_it(changes: dict[str, Any], told: bool) -> None:
    """The same of links."""
    assert same_link(LINK, LINK._replace(**changes)) is not told


def test_what_is_left_untold_never_adds_up() -> None:
    """Steps of 2 ms are told whenever they are past 5 ms from what was told last."""
    picture = Picture(VIEW)
    told = []
    for step in range(1, 11):
        station = STATION._replace(count_s=STATION.count_s + 0.002 * step)
        told += picture.change(VIEW._replace(stations=(station, VIEW.stations[1]))).get("stations", [])
    assert [station["count_s"] for station in told] == [100.018, 100.024, 100.03]


def test_a_station_is_rounded_for_the_wire() -> None:
    """Times to a millisecond, rates to 1e-9, variances to six digits."""
    json = station_json(STATION._replace(eta_var=(1.23456789e-4, 0.0, 1e-8, 1.23456789e-15)))
    assert json == STATION._asdict() | {
        "count_s": 100.012,
        "rate": 1.000123457,
        "eta_var": [1.23457e-4, 0.0, 1e-8, 1.23457e-15],
        "passes": {"head": 40.0},
        "head_s": 40.0,
    }


def test_alarms_come_change_and_go_by_key() -> None:
    """A changed alarm is told whole, one that is no longer shown by its key."""
    picture = Picture(VIEW)
    acked = ALARM._replace(state="acknowledged", acked_by="Ida")
    assert picture.change(VIEW._replace(alarms=(acked,))) == {"alarms": [acked._asdict()]}
    assert picture.change(VIEW._replace(alarms=())) == {"gone": ["slack_loose:a>b"]}
    assert picture.change(VIEW._replace(alarms=())) == {}


def test_prompts_and_sources_are_told_whole() -> None:
    """A list of prompts whose deadlines stay is not sent; one that moved is, and so are the sources."""
    picture = Picture(VIEW)
    assert picture.change(VIEW._replace(prompts=(PROMPT._replace(due_s=-15.004),))) == {}
    later = PROMPT._replace(due_s=-14.0)
    change = picture.change(VIEW._replace(prompts=(later,), sources={"contact:north": False}))
    assert change == {"prompts": [later._asdict()], "sources": {"contact:north": False}}
    assert picture.change(VIEW._replace(prompts=(), sources={"contact:north": False})) == {"prompts": []}


def test_changes_add_up_to_the_snapshot() -> None:
    """A desk that followed every change has what a desk gets that comes now."""
    picture = Picture(VIEW)
    shown = picture.as_json()
    stations = {station["id"]: station for station in shown["stations"]}
    for rate in (1.0, 1.0000001, 1.00001):
        views = tuple(station._replace(rate=rate) for station in VIEW.stations)
        for change in picture.change(VIEW._replace(stations=views)).get("stations", []):
            stations[change["id"]] = stations[change["id"]] | change
    assert picture.as_json()["stations"] == list(stations.values())
