"""From when on the state has taken a show's fault for what it is, whether or not it was told so."""

from server.timeline.fold import Fold
from tests.bench.single_faults.cases import Case


class Belief:
    """Watches one show: `at_s` is when its fault was first believed, after it showed; None until then."""

    def __init__(self, case: Case) -> None:
        self._case = case
        self._number = 0
        self.at_s: float | None = None

    def see(self, fold: Fold, at_s: float) -> None:
        """Look at the state after what was told at `at_s`."""
        is_new = self._is_new(fold)
        if self.at_s is None and at_s >= self._case.since_s and (is_new or self._is_known(fold)):
            self.at_s = at_s

    def _is_new(self, fold: Fold) -> bool:
        """Whether a change was believed just now, of the motors that the fault is of."""
        of, effect, n = fold.evidence.estimate.believed, self._case.single.effect, len(fold.plan.stations)
        if of is None or of.number <= self._number:
            return False
        self._number = of.number
        stations = frozenset(range(n)) if of.subject == n else frozenset({of.subject})
        return effect.shape in {"jump", "rate", "ramp"} and stations == effect.stations

    def _is_known(self, fold: Fold) -> bool:
        """Whether the state has opened to the fault's splice, or to its clock."""
        evidence, single = fold.evidence, self._case.single
        if single.right.kind == "clock":
            return any(evidence.feeds[feed].name == single.right.subject for feed, _, _ in evidence.estimate.clocks())
        return any(from_s == single.effect.splice_s for from_s, _, _ in evidence.estimate.splices())
