"""The story of a run: what happened, in at most five sentences, each with its moment.

Its words are made here alone; a page, the terminal and the report only say each moment on the house's clock.
"""

from collections.abc import Collection, Iterator
from typing import Any, Final, Literal, NamedTuple

import numpy as np

from server.review.account import Account
from server.review.sentences import ALIKE, Moment, Part, named, parts_of, told
from server.review.tables import seconds
from server.review.troubles import Trouble, alike_together, troubles_of
from server.review.walk import Walk
from server.timeline.estimate import US_PER_S
from server.timeline.events import at_us
from server.timeline.naming import link_of
from server.timeline.plan import Plan
from server.timeline.schedule import house_clock
from server.timeline.view import Level, Phase

MOST: Final = 5
"""Sentences of a story at most: what can be taken in at one look. Chosen."""

DAMAGE: Final = "contact:log"
"""The source of the note that a damaged log leaves behind."""

_POINTS: Final = 400  # chosen: the most a link held is looked for at so many instants


class Sentence(NamedTuple):
    """One sentence: its moment, in microseconds after the plan's zero, its level (None: no trouble), and its parts."""

    at_us: int
    level: Level | None
    parts: tuple[Part, ...]


RunState = Literal["waiting", "running", "standing", "over"]
"""No motor has started; film runs; film is left and all of it stands; no film is left."""


class Story(NamedTuple):
    """What happened, in order of time; `more` troubles were left out for worse ones, `state` is how the run ended."""

    sentences: tuple[Sentence, ...]
    more: int
    state: RunState


def story_of(account: Account, walk: Walk) -> Story:
    """Tell a run that was gone through: the worst of its troubles, or that it had none, and how far it is known."""
    plan, state = account.plan, state_of(walk.final.phases)
    troubles = alike_together(troubles_of(plan, walk, account.standing), ALIKE)
    ends = [*_damage(account), *_unfinished(plan, walk, troubles)]
    if not any(walk.ran()):
        return Story((*ends, _never_ran(walk))[:MOST], 0, state)
    found = [*_found_out(walk)]
    worst = sorted(troubles, key=lambda one: one.rank)[: max(MOST - len(ends), 1)]
    sentences = [Sentence(one.at_us, one.level, told(one, account, walk)) for one in worst] or [
        _quiet(plan, walk, "No alarm was raised: " if ends or found else "A quiet show, and nothing went wrong: ")
    ]
    shown = found[: max(MOST - len(sentences) - len(ends), 0)]
    every = sorted([*sentences, *shown, *ends], key=lambda one: one.at_us)
    return Story(tuple(every[:MOST]), len(troubles) - len(worst), state)


def state_of(phases: Collection[Phase]) -> RunState:
    """How a run stands whose stations are in these phases."""
    if not {"rolling", "showing", "tail"}.isdisjoint(phases):
        return "running"
    if "stopped" in phases:
        return "standing"
    return "over" if "clear" in phases else "waiting"


def _damage(account: Account) -> Iterator[Sentence]:
    """What damage of the log took: the note that it left among the events."""
    for event in account.standing:
        if event.kind == "note" and event.source == DAMAGE:
            yield Sentence(at_us(event, account.plan), "watch", (event.text or "The log was damaged.",))
            return


def _found_out(walk: Walk) -> Iterator[Sentence]:
    """The faults that were told as what they are."""
    for _, at, text in walk.final.evidence.told_faults:
        yield Sentence(at, "note", parts_of(f"{text}; seen at ", Moment(at), "."))


def _unfinished(plan: Plan, walk: Walk, troubles: list[Trouble]) -> Iterator[Sentence]:
    """That film is left where the run ends, unless the last stop of the chain says so."""
    left = [k for k, phase in enumerate(walk.final.phases) if phase not in {"clear", "threaded"}]
    stops = [one.stop for one in troubles if one.stop is not None]
    said = bool(stops) and max(stops, key=lambda stop: stop.at_us).again_us is None
    if left and not said:
        end_us = walk.span.to_us
        film = f", with film still in {named(plan, left)}."
        yield Sentence(end_us, None, parts_of("The account goes to ", Moment(end_us, seconds=True), film))


def _never_ran(walk: Walk) -> Sentence:
    return Sentence(walk.span.from_us, None, ("No motor was seen to start.",))


def _quiet(plan: Plan, walk: Walk, said: str) -> Sentence:
    """That nothing went wrong, in words that fit what is known, with the figures that say how well it went."""
    ran = [k for k, ever in enumerate(walk.ran()) if ever]
    from_us = min((at for at, _, phase in walk.phases if phase == "rolling"), default=walk.span.from_us)
    to_us = max((at for at, _, phase in walk.phases if phase == "clear"), default=walk.span.to_us)
    houses = "1 house" if len(ran) == 1 else f"{len(ran)} houses"
    parts = parts_of(said, houses, " ran from ", Moment(from_us), " to ", Moment(to_us), _most_used(plan, walk), ".")
    return Sentence(from_us, None, parts)


def _most_used(plan: Plan, walk: Walk) -> str:
    """How much of a link's reserve was used at most, and which link's."""
    grid = np.linspace(walk.span.from_us, walk.span.to_us, _POINTS).astype(int).tolist()
    slack, _ = walk.slack(grid)
    shares = [
        (float(np.nanmax(np.abs(slack[:, i]))) / link.reserve_s, i)
        for i, link in enumerate(plan.links)
        if link.reserve_s and not np.isnan(slack[:, i]).all()
    ]
    if not shares:
        return ""
    share, link = max(shares)
    return f", and no link used more than {100.0 * share:.0f} % of its reserve ({link_of(plan, link)})"


def more_in_words(story: Story) -> str:
    """What was left out; empty where nothing was."""
    if not story.more:
        return ""
    return f"And {story.more} more {'trouble' if story.more == 1 else 'troubles'}: see the alarms."


def text_of(sentence: Sentence, plan: Plan) -> str:
    """A sentence with its moments on the house's clock, for paper and the terminal."""
    return "".join(part if isinstance(part, str) else _clock(part, plan) for part in sentence.parts)


def _clock(moment: Moment, plan: Plan) -> str:
    at = house_clock(plan, moment.at_us / US_PER_S)
    return f"{at:%H:%M:%S}" if moment.seconds else f"{at:%H:%M}"


def story_json(story: Story) -> dict[str, Any]:
    """A story as programs get it; a part is a text, or a moment that they say on the house's clock."""
    return {
        "sentences": [
            {"at_s": seconds(one.at_us), "level": one.level, "parts": [_part_json(part) for part in one.parts]}
            for one in story.sentences
        ],
        "more": more_in_words(story),
        "state": story.state,
    }


def _part_json(part: Part) -> dict[str, Any]:
    if isinstance(part, str):
        return {"text": part, "at_s": None, "seconds": False}
    return {"text": None, "at_s": seconds(part.at_us), "seconds": part.seconds}
