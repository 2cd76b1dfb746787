"""All shows together: each measure beside its target."""

from collections import Counter
from collections.abc import Iterator, Sequence
from statistics import median, quantiles
from typing import NamedTuple

from tests.bench.contact_shows.judging import SIGMAS, Heard, Judged, latest_s
from tests.bench.contact_shows.script import PORTS

LEAST_WITHIN = 0.99


class Line(NamedTuple):
    """One row of the table: a figure over so many, the target in words, and whether it is met (None: it has none)."""

    what: str
    told: str
    number: int
    target: str = ""
    met: bool | None = None


def summary(shows: Sequence[Judged]) -> Iterator[Line]:
    """Every measure; one of nothing is not met."""
    heard = [each for show in shows for each in show.heard]
    whole = sum(show.whole for show in shows)
    yield _none("edges that came whole and made no event", sum(len(show.lost) for show in shows), whole)
    yield _none("events out of order for one input", sum(len(show.disordered) for show in shows), len(heard))
    events = len(heard) + sum(len(show.unexplained) + len(show.flickered) for show in shows)
    yield _none("events that no edge explains", sum(len(show.unexplained) for show in shows), events)
    within = sum(each.sigmas <= SIGMAS for each in heard)
    share = within / len(heard) if heard else 0.0
    target = f"at least {LEAST_WITHIN}"
    yield Line("events within 3 sigma of the truth", f"{share:.4f}", len(heard), target, share >= LEAST_WITHIN)
    yield _none("acts told, all false", sum(len(show.acts) for show in shows), len(shows))
    yield Line("events of a contact that flickered", str(sum(len(show.flickered) for show in shows)), events)
    yield from _not_whole(shows)
    for feed, port in PORTS.items():
        yield from _errors(port, [each for each in heard if each.feed == feed])
    yield from _costs(shows)


def misses(shows: Sequence[Judged]) -> Iterator[str]:
    """Each miss, with the seed of its show and what was wrong there."""
    for show in sorted(shows, key=lambda show: show.seed):
        kinds = (("lost", show.lost), ("out of order", show.disordered), ("no edge explains", show.unexplained))
        found = [f"{kind}: {one.words}{_then(show, one.at_s)}" for kind, ones in kinds for one in ones]
        off = (each for each in show.heard if each.sigmas > SIGMAS)
        found += [
            f"{each.sigmas:.1f} sigma of {each.sigma_s:.3f} s: {each.words}{_then(show, each.at_s)}" for each in off
        ]
        acts = ((act, "over, when told, " if act.over else "") for act in show.acts)
        found += [f"false act: {over}{act.key} at {act.at_s:.3f} s: {act.text}" for act, over in acts]
        found += [f"the run failed: {show.fault}"] if show.fault else []
        if found:
            yield f"seed {show.seed} ({'; '.join(show.faults)})"
            yield from (f"    {one}" for one in found)


def acts_by_kind(shows: Sequence[Judged]) -> str:
    """How many false acts of which kind."""
    kinds = Counter(act.kind for show in shows for act in show.acts)
    return ", ".join(f"{kind} {number}" for kind, number in kinds.most_common()) or "none"


def _then(show: Judged, at_s: float) -> str:
    """What the machine did just then."""
    lates = {"loop": show.late, "contacts": show.stage_late, "lines": show.line_late}
    found = [
        f"{what} late by {1000.0 * late_s:.0f} ms" for what, late in lates.items() if (late_s := latest_s(late, at_s))
    ]
    return f" ({', '.join(found)})" if found else ""


def _none(what: str, found: int, number: int) -> Line:
    return Line(what, str(found), number, "0", found == 0 and number > 0)


def _not_whole(shows: Sequence[Judged]) -> Iterator[Line]:
    number = sum(show.not_whole for show in shows)
    yield Line("edges that did not come whole, and were heard", str(sum(s.not_whole_heard for s in shows)), number)
    short = sum(show.short for show in shows)
    yield Line("of them foils too short for their poll", str(sum(s.short_heard for s in shows)), short)


def _errors(port: str, heard: Sequence[Heard]) -> Iterator[Line]:
    """How far off, of what was told as it happened, and of what was found later."""
    for what, told in (("as it happened", True), ("found when its feed was back", False)):
        errors_ms = sorted(1000.0 * abs(each.error_s) for each in heard if each.told is told)
        if len(errors_ms) > 1:
            cuts = quantiles(errors_ms, n=100, method="inclusive")
            figures = f"{cuts[49]:.1f}, {cuts[98]:.1f}, {errors_ms[-1]:.1f}"
            yield Line(f"{port}, {what}: error p50, p99, worst, ms", figures, len(errors_ms))


def _costs(shows: Sequence[Judged]) -> Iterator[Line]:
    for what, figures in (
        ("seconds a show", [show.took_s for show in shows]),
        ("seconds of a processor for Festoon, a show", [show.cpu_s for show in shows]),
        ("its loop late at the worst, ms", [1000.0 * latest_s(show.late) for show in shows]),
        ("contacts moved late at the worst, ms", [1000.0 * latest_s(show.stage_late) for show in shows]),
        ("a byte on a pseudo-terminal late at the worst, ms", [1000.0 * latest_s(show.line_late) for show in shows]),
        ("load of the machine", [show.load for show in shows]),
    ):
        if figures:
            yield Line(f"{what}: median show, worst", f"{median(figures):.1f}, {max(figures):.1f}", len(figures))
