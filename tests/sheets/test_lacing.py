"""The threading sheet has all of the lacing, in its order, with a box for each thing."""

import re

from server.planning.lacing import NO_MOTOR, PLATFORM, lacing_of
from server.timeline.plan import Plan
from tests.planning.chains import chain, path, site
from tests.sheets.shows import Read, pages_of, plan_named, show_of


def sheet(plan: Plan) -> Read:
    return Read(pages_of(show_of(plan))["threading"])


def test_every_step_is_there_in_its_order() -> None:
    """Number, place and what is to be done of each, as the lacing has them: stretches and machines from the last."""
    plan = plan_named("sixteen")
    steps = lacing_of(plan, None).steps
    rows = [row for row in sheet(plan).rows if len(row) == 7 and row[1].isdecimal()]
    assert [int(row[1]) for row in rows] == [step.number for step in steps]
    for row, step in zip(rows, steps, strict=True):
        assert row[2].casefold() == step.where.casefold()
        assert row[3].startswith(step.what)
    assert next(row[2] for row in rows if "Lace the machine" in row[3]) == "House 8"


def test_a_caution_stands_where_it_begins_to_hold() -> None:
    """Once at the first stretch, once at the first machine; not again for the same work next door."""
    plan = plan_named("sixteen")
    whats = [row[3] for row in sheet(plan).rows if len(row) == 7]
    assert [what for what in whats if PLATFORM in what] == [whats[1]]
    assert len([what for what in whats if NO_MOTOR in what]) == 1


def test_the_leader_is_told_to_the_foot_with_its_parts() -> None:
    """The sum at the top is that of the lacing, rounded up, and each part is named with its feet."""
    plan = plan_named("larkspur")
    lacing, text = lacing_of(plan, None), sheet(plan).text
    assert 1010.0 < lacing.leader_ft < 1011.0
    assert "Leader: 1011 ft" in text
    for part in lacing.parts:
        assert re.search(rf"{part.feet:.0f} ft ?: {re.escape(part.what)}", text)
    assert "18:13 begin" in text
    assert "18:37 ready" in text


def test_a_stretch_says_its_pull_in_plain_words() -> None:
    """Who pulls and who helps, with the force; doorways, guides and height where the site file has them."""
    plan = chain((60.0, 6), (700.0, 70))
    place = site(path(11, 12, 60.0), path(12, 13, 700.0, turns_deg=450.0, doorways=2, height_m=3.2))
    text = Read(pages_of(show_of(plan, place))["threading"]).text
    pull = lacing_of(plan, place).stretches[-1]
    assert pull.effort == "too hard for one pair of hands"
    assert re.search(
        rf"Too hard for one pair of hands ?: one pulls, one helps half way, one feeds \({pull.pull_n:.0f} N\)", text
    )
    assert "70 rollers, 2 doorways, 450° over fixed guides, up to 3.2 m high" in text
    assert "Spliced where they meet, at House 12." in text


def test_everything_to_check_has_a_box() -> None:
    """Each step; the head leader's splice, the tape mark, the splices between stretches, the core; machines; cues."""
    plan = plan_named("larkspur")
    lacing, read = lacing_of(plan, None), sheet(plan)
    cues = [mark for mark in plan.marks if mark.cue]
    checks = 3 + len(lacing.stretches[1:])
    assert read.boxes == len(lacing.steps) + checks + 4 * len(plan.stations) + len(cues)
    assert "House 4: splice of the two stretches" in read.text
    assert "House 3: tape mark on the film in the gate." in read.text
    # 90 ft of leader come before the first trailer, whose foil is on its first frame; 16 frames a foot, 24 a second.
    assert ["", "the first frame of Trailer: Salt Road", "90.0", "1:00"] in read.rows


def test_one_house_has_no_stretch() -> None:
    """A chain of one is laced by its machine alone, and its sheet says nothing of splices on the way."""
    read = sheet(chain())
    assert "Stretches" not in read.text
    assert "Splices and tape marks to check" in read.text
