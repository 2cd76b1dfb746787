"""Reserves that have been spent, and that nobody has read or laced anew since.

Film that lay on the floor, or was pulled taut, is not as it was because its link holds less again: whoever reads it or
laces it anew says how it is. What was only believed of it is over as soon as something else is learned.
"""

import numpy as np

from server.timeline.estimate import Array, Estimate
from server.timeline.plan import Plan

BACK = 0.9
"""A reserve is no longer spent once a tenth of it is left."""


class Spent:
    """The links whose reserve has been spent; by their indices in film order."""

    __slots__ = ("_back", "_links", "_reserves_s")

    def __init__(self, plan: Plan) -> None:
        self._reserves_s: Array = np.array([link.reserve_s for link in plan.links], dtype=np.float64)
        self._links: frozenset[int] = frozenset()
        # Of these, what film that runs has brought back, and nothing that was learned.
        self._back: frozenset[int] = frozenset()

    def copy(self) -> "Spent":
        """Return an independent copy."""
        twin = object.__new__(Spent)
        twin._reserves_s, twin._links, twin._back = self._reserves_s, self._links, self._back
        return twin

    def learned(self, estimate: Estimate) -> None:
        """Something was learned since `moved`: what is no longer believed to be spent has not been."""
        if not self._links and not estimate.any_slack_over(self._reserves_s):
            return
        slack_s = estimate.slacks_s()
        self._links = frozenset(i for i in self._links if i in self._back or self._is_over(i, slack_s, BACK))
        self._note(estimate, slack_s)

    def moved(self, estimate: Estimate) -> None:
        """Film has run on, or stood, to an instant."""
        if not self._links and not estimate.any_slack_over(self._reserves_s):
            return
        slack_s = estimate.slacks_s()
        self._note(estimate, slack_s)
        self._back = frozenset(i for i in self._links if not self._is_over(i, slack_s, BACK))

    def told(self, link: int, estimate: Estimate) -> None:
        """Somebody read a link or laced it anew."""
        if not self._is_over(link, estimate.slacks_s(), BACK):
            self._links -= {link}
            self._back -= {link}

    def back(self, estimate: Estimate) -> frozenset[int]:
        """Return those that hold less than their reserve again, and that nobody has read or laced anew since."""
        if not self._back:
            return self._back
        slack_s = estimate.slacks_s()
        return frozenset(i for i in self._back if not self._is_over(i, slack_s, BACK))

    def _note(self, estimate: Estimate, slack_s: Array) -> None:
        over = (i for i in range(len(self._reserves_s)) if self._is_over(i, slack_s, 1.0))
        past = (i for i in over if abs(slack_s[i]) > self._reserves_s[i] + estimate.slack_sigma_s(i))
        self._links |= frozenset(past)

    def _is_over(self, link: int, slack_s: Array, share: float) -> bool:
        reserve_s = float(self._reserves_s[link])
        return reserve_s > 0.0 and bool(abs(slack_s[link]) >= share * reserve_s)
