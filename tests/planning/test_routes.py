"""Paths that cannot be as they are written, and loops that cannot hold their reserve."""

import pytest

from server.planning.findings import Finding
from server.planning.loops import loop_for
from server.planning.routes import route_findings
from server.planning.site_model import Path, Site
from server.timeline.plan import Plan
from tests.planning.chains import METRES_A_FOOT, chain, path, site


def found(plan: Plan, place: Site | None = None) -> list[Finding]:
    return list(route_findings(plan, place))


def codes(plan: Plan, place: Site | None = None) -> list[str]:
    return [finding.code for finding in found(plan, place)]


def test_a_plain_path_is_not_told() -> None:
    """A path of 100 ft over 8 rollers has nothing wrong, with a site that agrees or without one."""
    assert found(chain((100.0, 8))) == []
    assert found(chain((100.0, 8)), site(path(11, 12, 100.0, height_m=3.0, doorways=1))) == []


def test_a_path_shorter_than_a_booth() -> None:
    """Three feet between two machines are told, and no path at all is for the schedule to warn of."""
    (finding,) = found(chain((3.0, 0)))
    assert (finding.code, finding.level, finding.about) == ("path_short", "warning", "House 11 to 12")
    assert finding.stations == ("st0", "st1")
    assert found(chain((0.0, 0))) == []


def test_metres_written_as_feet() -> None:
    """Seven feet that would be a booth's path in metres are asked about; so are rollers a hand apart."""
    (short,) = found(chain((7.0, 3)))
    assert short.remedy == "Measure it again. If 7 is metres and not feet, write path_m = 7."
    (close,) = found(chain((30.0, 40)))
    assert close.code == "path_in_metres"
    assert "write path_m = 30" in close.remedy


def test_feet_written_as_metres() -> None:
    """A hundred metres over five rollers hang into the room: they may be feet."""
    (finding,) = found(chain((100.0 / METRES_A_FOOT, 5)))
    assert finding.code == "path_in_feet"
    assert "write path_ft = 100" in finding.remedy


@pytest.mark.parametrize(
    ("feet", "remedy"),
    [
        (30.5, "30.5 looks like metres, written as feet: write path_m = 30.5."),
        (328.0, "looks like feet, written as metres: write path_ft = 99.97."),
        (130.0, "Take the site's length, or measure the path again."),
    ],
)
def test_a_path_that_is_not_the_sites(feet: float, remedy: str) -> None:
    """A plan's path that is off by what a foot is to a metre is answered with what was meant."""
    (finding,) = found(chain((feet, 20)), site(path(12, 11, 100.0)))
    assert finding.code == "path_not_sites"
    assert finding.remedy.endswith(remedy)


def test_a_path_as_a_tape_measures_it_is_the_sites() -> None:
    """Three of the site's own standard deviations more or less are no other path, and never more than a tenth."""
    assert codes(chain((102.5, 8)), site(path(11, 12, 100.0))) == []
    assert codes(chain((103.5, 8)), site(path(11, 12, 100.0))) == ["path_not_sites"]
    assert codes(chain((109.0, 8)), site(path(11, 12, 100.0, path_tolerance_percent=5.0))) == []
    assert codes(chain((112.0, 8)), site(path(11, 12, 100.0, path_tolerance_percent=5.0))) == ["path_not_sites"]


def test_rollers_that_only_the_site_has_are_told() -> None:
    """A pull without them would look easy."""
    assert codes(chain((100.0, 0)), site(path(11, 12, 100.0, rollers=6))) == ["rollers_not_counted"]
    assert codes(chain((100.0, 5)), site(path(11, 12, 100.0, rollers=6))) == []


@pytest.mark.parametrize(
    ("height_m", "code"), [(1.9, ["doorway_low"]), (2.1, []), (4.0, []), (4.5, ["doorway_high"]), (None, [])]
)
def test_a_doorway_at_height(height_m: float | None, code: list[str]) -> None:
    """Film crosses a doorway over people's heads, and no doorway is as high as a wall."""
    more = {"doorways": 1} if height_m is None else {"doorways": 1, "height_m": height_m}
    assert codes(chain((100.0, 8)), site(path(11, 12, 100.0, **more))) == code
    assert codes(chain((100.0, 8)), site(path(11, 12, 100.0, **(more | {"doorways": 0})))) == []


def test_a_path_that_cannot_reach_its_own_rollers() -> None:
    """Twelve feet go up to no roller at six metres."""
    assert codes(chain((12.0, 3)), site(path(11, 12, 12.0, height_m=6.0))) == ["path_short"]
    assert codes(chain((40.0, 3)), site(path(11, 12, 40.0, height_m=6.0))) == []


def test_a_path_longer_than_the_way_round() -> None:
    """Of three houses a path that is much longer than the way by the third is measured wrong."""
    plan = chain((200.0, 16))
    places: list[Path] = [path(11, 12, 200.0), path(11, 15, 60.0), path(15, 12, 70.0)]
    (finding,) = found(plan, site(*places))
    assert finding.code == "path_roundabout"
    assert "by House 15" in finding.text
    assert codes(plan, site(places[0], path(11, 15, 100.0), path(15, 12, 100.0))) == []
    assert codes(plan, site(places[0], path(11, 15, 10.0))) == []


def test_a_loop_that_cannot_hold_its_reserve() -> None:
    """Too little room below is told with what it holds, and the room that is asked for is enough."""
    plan = chain((100.0, 8))
    (finding,) = found(plan, site(path(11, 12, 100.0, loop_span_m=1.2, loop_drop_m=0.8)))
    loop = loop_for(1.2, 0.8, 2.0, 0.456)
    assert (finding.code, finding.level) == ("loop_too_small", "fault")
    assert f"holds {loop.holds_s:.2f} s of film either way; the plan has a reserve of 2 s" in finding.text
    assert f"Give it {loop.full_sag_m:.2f} m of room and let it hang {loop.rest_sag_m:.2f} m at rest" in finding.remedy
    enough = path(11, 12, 100.0, loop_span_m=1.2, loop_drop_m=loop.full_sag_m + 0.005)
    assert codes(plan, site(enough)) == []


def test_the_reserve_that_is_offered_is_held() -> None:
    """The reserve that a loop is said to hold, written into the plan, is not told again."""
    small = path(11, 12, 100.0, loop_span_m=1.2, loop_drop_m=0.8)
    (finding,) = found(chain((100.0, 8)), site(small))
    offered = float(finding.remedy.split("reserve_s = ")[1].rstrip("."))
    assert 0.5 < offered < 2.0
    assert codes(chain((100.0, 8), stations={1: f"reserve_s = {offered}"}), site(small)) == []
