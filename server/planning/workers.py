"""Pieces of work given to so many people, in order: when each is begun."""

from typing import NamedTuple


class Work(NamedTuple):
    """One piece of work: the minutes that one person would take, shared by `people` who do it together."""

    what: str
    where: str
    minutes: float
    people: int
    caution: str | None


def begun(works: list[Work], crew: int, from_min: float) -> list[float]:
    """Return when each piece is begun: in their order, as soon as enough people are free; none asks for more than all.

    Minutes count as `from_min` does, when everybody is free.
    """
    free = [from_min] * crew
    begins: list[float] = []
    for work in works:
        free.sort()
        at_min = free[work.people - 1]
        begins.append(at_min)
        free[: work.people] = [at_min + work.minutes / work.people] * work.people
    return begins
