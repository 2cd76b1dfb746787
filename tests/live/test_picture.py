"""What of a new view is told, and how it is rounded."""

from typing import Any

import pytest

from server.live.figures import link_json, station_json
from server.live.picture import Picture, link_change, station_change
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
    head_s=40.00049,
    credits_s=None,
    end_s=7000.0,
    clear_s=7100.0,
)
LINK = LinkView("a>b", 100.0, 0.5, 2e-4, (0.01, 0.0, 1e-10, 0.0), 2.0, (None, 7600.0, 9000.0))
ALARM = AlarmView(
    "slack_loose:a>b",
    "slack_loose",
    "a>b",
    "watch",
    "unacknowledged",
    None,
    True,
    90.0,
    "",
    "",
    None,
    None,
    None,
    "",
    "",
    False,
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


MOTION = ["at_s", "count_s", "rate", "ahead_s", "eta_var"]
SLACK = ["at_s", "slack_s", "drift", "slack_var"]


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"count_s": 100.01234 + 0.09}, []),
        ({"count_s": 100.01234 + 0.11}, MOTION),
        ({"count_s": 130.01234, "ahead_s": 30.0}, []),  # the same film in the gate, and the same arrivals
        ({"rate": 1.00012345678 + 1.3e-5}, []),  # 7,000 s ahead that is 91 ms
        ({"rate": 1.00012345678 + 1.6e-5}, MOTION),
        ({"rate": 0.0, "running": False}, ["running", *MOTION]),
        ({"end_s": 7000.09}, []),
        ({"end_s": 7000.11}, ["end_s"]),
        ({"end_s": None}, ["end_s"]),
        ({"head_s": 40.09}, []),
        ({"head_s": 40.11}, ["head_s"]),
        ({"eta_var": (1.4e-2, 0.0, 1e-8, 1e-15)}, []),  # 20 to 118 ms now: by less than a step
        ({"eta_var": (1.5e-2, 0.0, 1e-8, 1e-15)}, MOTION),  # 20 to 122 ms
        ({"eta_var": (4e-4, 0.0, 1.4e-8, 1e-15)}, MOTION),  # 0.91 to 1.01 s, as the film ends
        ({"phase": "tail"}, ["phase"]),
        ({"lamp_s": -29.9}, ["lamp_s"]),
        ({"passes": {"head": 40.0, "t1": 41.0}}, ["passes"]),
    ],
)
def test_of_a_station_is_told_what_a_desk_would_see(changes: dict[str, Any], told: list[str]) -> None:
    """What moves less than a tenth of a second anywhere in the film is left untold; of the rest only that is told."""
    told_before = station_json(STATION)
    assert list(station_change(told_before, STATION, STATION._replace(**changes), 100.0)) == told


@pytest.mark.parametrize(
    ("changes", "told"),
    [
        ({"slack_s": 0.509}, []),
        ({"slack_s": 0.511}, SLACK),
        ({"drift": 2.16e-4}, []),  # in ten minutes that is 9.6 ms
        ({"drift": 2.18e-4}, SLACK),
        ({"slack_var": (0.109**2, 0.0, 1e-10, 0.0)}, []),
        ({"slack_var": (0.111**2, 0.0, 1e-10, 0.0)}, SLACK),
        ({"slack_var": (0.01, 0.0, 81e-10, 0.0)}, SLACK),
        ({"slack_var": (0.01, 4e-6, 1e-10, 0.0)}, SLACK),  # in ten minutes 100 to 111 ms
        ({"slack_var": (0.01, 0.0, 1e-10, 1e-11)}, SLACK),  # 100 to 110 ms
        ({"gone_s": (None, 7600.0 + 75.0, 9000.0)}, []),  # 1 % of the 7,500 s that are left, and a second
        ({"gone_s": (None, 7600.0 + 78.0, 9000.0)}, ["gone_s"]),
        ({"gone_s": (500.0, 7600.0, None)}, []),  # only the likely time is shown
        ({"gone_s": (None, None, 9000.0)}, ["gone_s"]),
        ({"slack_s": None, "drift": None, "slack_var": None}, SLACK),
        ({"reserve_s": 3.0}, ["reserve_s"]),
    ],
)
def test_of_a_link_is_told_what_a_desk_would_see(changes: dict[str, Any], told: list[str]) -> None:
    """The same of links, slack to a hundredth of a second, now and for the ten minutes after."""
    told_before = link_json(LINK)
    assert list(link_change(told_before, LINK, LINK._replace(**changes), 100.0)) == told


def test_what_is_left_untold_never_adds_up() -> None:
    """Steps of 40 ms are told whenever they are a tenth of a second from what was told last."""
    picture = Picture(VIEW)
    told = []
    for step in range(1, 11):
        station = STATION._replace(count_s=STATION.count_s + 0.04 * step)
        told += picture.change(VIEW._replace(stations=(station, VIEW.stations[1]))).get("stations", [])
    assert [station["count_s"] for station in told] == [100.13, 100.25, 100.37]


def test_a_station_is_rounded_for_the_wire() -> None:
    """What is expected to a tenth of a second, what was seen to a millisecond, a count for the rounded instant."""
    station = STATION._replace(at_s=100.04, eta_var=(1.23456789e-4, 0.0, 1e-8, 1.23456789e-15), end_s=7000.06)
    json = station_json(station)
    assert json == STATION._asdict() | {
        "at_s": 100.0,
        "count_s": 99.97,
        "rate": 1.00012346,
        "eta_var": [1.235e-4, 0.0, 1e-8, 1.235e-15],
        "passes": {"head": 40.0},
        "head_s": 40.0,
        "end_s": 7000.1,
    }


def test_alarms_come_change_and_go_by_key() -> None:
    """Of an alarm what is new is told, of one that is no longer shown its key."""
    picture = Picture(VIEW)
    acked = ALARM._replace(state="acknowledged", acked_by="Ida")
    assert picture.change(VIEW._replace(alarms=(acked,))) == {
        "alarms": [{"key": ALARM.key, "state": "acknowledged", "acked_by": "Ida"}]
    }
    assert picture.change(VIEW._replace(alarms=())) == {"gone": ["slack_loose:a>b"]}
    assert picture.change(VIEW._replace(alarms=())) == {}


def test_prompts_come_change_and_go_by_key() -> None:
    """A prompt whose times stay within a step is not told; of one that moved that is, and of one that went its key."""
    picture = Picture(VIEW)
    assert picture.change(VIEW._replace(prompts=(PROMPT._replace(due_s=-15.09),))) == {}
    later, pause = PROMPT._replace(due_s=-14.0), PROMPT._replace(kind="intermission")
    change = picture.change(VIEW._replace(prompts=(later, pause, pause._replace(due_s=9.0))))
    assert change["prompts"] == [
        {"key": "strike a", "due_s": -14.0},
        {"key": "intermission a"} | pause._asdict(),
        {"key": "intermission a 2"} | pause._replace(due_s=9.0)._asdict(),
    ]
    assert picture.change(VIEW._replace(prompts=(pause,))) == {"prompts_gone": ["strike a", "intermission a 2"]}


def test_sources_are_told_whole() -> None:
    """A source that goes down is told with the others."""
    down = {"contact:north": False}
    assert Picture(VIEW).change(VIEW._replace(sources=down)) == {"sources": down}
