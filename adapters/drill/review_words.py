"""The review of a rehearsal in words: a few sentences, and tables for the terminal, with times by the house's clock."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from typing import Final, NamedTuple

from adapters.drill.rehearsal import Done
from adapters.drill.review import DarkReview, HeatReview, LinkReview, Review, StrikeReview, TapReview
from adapters.drill.sights import house_of, link_of
from server.timeline.plan import Plan

FORMAT: Final = "festoon-review/1"

_DID: Final = {
    "chain_start": "started all motors",
    "chain_stop": "stopped all motors",
    "motor_start": "started the motor",
    "motor_stop": "stopped the motor",
    "lamp_lit": "struck the lamp",
    "lamp_out": "put the lamp out",
    "douser_open": "opened the douser",
    "douser_shut": "shut the douser",
    "ready": "said that it was ready",
    "relaced": "laced the film to it anew",
    "hold": "moved the start",
}
_ENDS: Final = {
    "out": "The last tail is out: the show was seen to its end.",
    "spilled": "Nobody stopped the film in time: it is past saving, and the drill has ended.",
    None: "You ended the drill.",
}
READ_S: Final = 1.0
"""An alarm that was on for less, of real time, nobody can have read: it is counted, not listed. Chosen."""

_LEAST_FT: Final = 0.5  # chosen: less is not told in feet
_LEAST_S: Final = 1.0  # chosen


class Told(NamedTuple):
    """One alarm as the desks told it; times in seconds after `motors_at`, None for what never came.

    `cause` is the key of the alarm that it was put under all the same. `own` is whether it asks for something of its
    own, whatever it is under.
    """

    level: str
    text: str
    cause: str | None
    told_s: float
    acked_s: float | None
    over_s: float | None
    own: bool = False

    @property
    def calls(self) -> bool:
        """Whether somebody is to acknowledge it."""
        return self.cause is None or self.own


class Section(NamedTuple):
    """One table of the account; `empty` is what to say where it has no rows."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    empty: str


class ReviewInWords(NamedTuple):
    """All that is said to whoever took part: the sentences first, then the tables."""

    sentences: tuple[str, ...]
    sections: tuple[Section, ...]


def review_in_words(review: Review, told: Sequence[Told], plan: Plan, speed: float = 1.0) -> ReviewInWords:
    """Say a review, with the alarms that were told on the way; the drill went `speed` times as fast as life."""
    lasting = [alarm for alarm in told if alarm.over_s is None or alarm.over_s - alarm.told_s >= READ_S * speed]
    said = _Said(review, lasting, len(told) - len(lasting), plan)
    return ReviewInWords(tuple(said.sentences()), tuple(said.sections()))


def json_of(review: Review, told: Sequence[Told]) -> dict[str, object]:
    """A review for programs, `festoon-review/1`: times in seconds after `motors_at`, no number rounded."""
    values: dict[str, object] = {"format": FORMAT} | dict(review._asdict())
    done = [
        {"at_s": at_s, "kind": event.kind, "station": event.station, "by": event.by, "changed": changed}
        for at_s, event, changed in review.done
    ]
    lists = {name: [each._asdict() for each in getattr(review, name)] for name in _LISTS}
    return values | lists | {"done": done, "alarms": [alarm._asdict() for alarm in told]}


_LISTS: Final = ("troubles", "strikes", "taps", "links", "dark", "heat")


class _Said:
    def __init__(self, review: Review, told: Sequence[Told], brief: int, plan: Plan) -> None:
        self._review = review
        self._told = told
        self._brief = brief
        self._plan = plan
        began_s = [trouble.began_s for trouble in review.troubles if trouble.came and trouble.began_s is not None]
        self._began_s = min(began_s, default=None)

    def sentences(self) -> list[str]:
        """How it ended, what it cost, and how much of what was the person's was done in time."""
        review = self._review
        crew = "" if review.crew == "contacts" else f" --crew {review.crew}"
        again = f"The same drill again: --fault {review.name} --seed {review.seed}{crew}"
        return [
            _ENDS[review.end],
            self._film(),
            self._dark(),
            *self._heat(),
            self._reserve(),
            *self._shares(),
            *self._unlisted(),
            again,
        ]

    def sections(self) -> list[Section]:
        """Everything behind the sentences: what happened, what was done, what it cost."""
        return [*self._story(), *self._tasks(), *self._costs()]

    def _story(self) -> Iterator[Section]:
        yield Section("What went wrong", ("From", "What"), tuple(self._trouble_rows()), "Nothing was to go wrong.")
        yield Section(
            "What the desks showed you, and how long after the trouble began",
            ("At", "After", "Level", "Alarm", "Acknowledged", "Over"),
            tuple(self._alarm_row(alarm) for alarm in self._told),
            "No alarm was raised.",
        )
        yield Section(
            "What you did, and how long after the trouble began",
            ("At", "After", "Where", "What"),
            tuple(self._done_row(done) for done in self._review.done),
            "You did nothing to a motor, a lamp or a douser.",
        )

    def _tasks(self) -> Iterator[Section]:
        yield Section(
            "Lamps, by their true windows",
            ("House", "Whose", "Struck", "Window", "How"),
            tuple(self._strike_row(strike) for strike in self._review.strikes),
            "No lamp was to be struck yet.",
        )
        yield Section(
            "Passes to tap, by their true times",
            ("House", "Pass", "Tapped", "Passed", "How"),
            tuple(self._tap_rows()),
            "There was no pass for you to tap.",
        )

    def _costs(self) -> Iterator[Section]:
        yield Section(
            "What it cost",
            ("Link", "Reserve left at the worst", "At", "On the floor", "Pulled tight"),
            tuple(self._link_row(link) for link in self._review.links),
            "One house has no link.",
        )
        yield Section(
            "Without a picture",
            ("House", "Dark", "Of that, film standing"),
            tuple((self._house(dark.station), _length(dark.dark_s), _length(dark.standing_s)) for dark in self._gone()),
            "No house was dark in its show.",
        )
        yield Section(
            "Film that stood in the light",
            ("House", "From", "For"),
            tuple(self._heat_row(heat) for heat in self._review.heat),
            "No film stood in the light.",
        )

    def _film(self) -> str:
        lost = [link for link in self._review.links if link.spilled_ft + link.pulled_ft >= _LEAST_FT]
        if not lost:
            return "Film: none was lost."
        told = [f"{_feet(link)} at {self._link(link.link)}" for link in lost]
        return f"Film: {', '.join(told)}."

    def _dark(self) -> str:
        if not self._review.dark:
            return "Picture: no house had begun yet."
        dark_s = sum(dark.dark_s for dark in self._review.dark)
        if dark_s < _LEAST_S:
            return "Picture: every house that had begun had its picture all the time."
        return f"Picture: {len(self._gone())} of {len(self._review.dark)} houses went dark, {_length(dark_s)} in all."

    def _heat(self) -> list[str]:
        """The house where it was worst, and how many more; nothing is said where no film stood in the light."""
        seconds: dict[str, float] = {}
        for heat in self._review.heat:
            seconds[heat.station] = seconds.get(heat.station, 0.0) + heat.for_s
        if not seconds:
            return []
        worst = max(seconds, key=lambda station: seconds[station])
        others = len(seconds) - 1
        more = f" So it did, for less, in {others} more house{'s' if others > 1 else ''}." if others else ""
        return [f"{self._house(worst)}: film stood in the light for {_length(seconds[worst])}.{more}"]

    def _heat_row(self, heat: HeatReview) -> tuple[str, ...]:
        still = ", and does still" if heat.until_s is None else ""
        return self._house(heat.station), self._clock(heat.from_s), f"{_length(heat.for_s)}{still}"

    def _reserve(self) -> str:
        worst = min(self._review.links, key=lambda link: link.left_s, default=None)
        if worst is None:
            return "Reserve: a chain of one house has none to lose."
        if worst.left_s > 0.0:
            return f"Reserve: at the worst {worst.left_s:.2f} s was left, at {self._link(worst.link)}."
        stopped = self._stopped_after()
        return f"Reserve: spent first at {self._clock(self._review.first_spent_s or worst.worst_s)}{stopped}."

    def _stopped_after(self) -> str:
        spent_s = self._review.first_spent_s
        stops_s = [at_s for at_s, event, _ in self._review.done if event.kind == "chain_stop"]
        if spent_s is None:
            return ""
        after = [at_s - spent_s for at_s in stops_s if at_s >= spent_s]
        if after:
            return f"; you stopped the film {_length(after[0])} later"
        return "; you did not stop the film" if self._review.crew != "all" else ""

    def _shares(self) -> list[str]:
        """How many of what was the person's were right; silent about what was not."""
        review = self._review
        lamps = [strike.verdict == "in time" for strike in review.strikes if strike.yours]
        taps = [tap.verdict == "right" for tap in review.taps]
        acts = [alarm.acked_s for alarm in self._told if alarm.level == "act" and alarm.calls]
        seen = [at_s is not None for at_s in acts]
        counted = ("Your lamps in time", lamps), ("Passes tapped right", taps), ("Alarms to act on, acknowledged", seen)
        return [f"{what}: {sum(right)} of {len(right)}." for what, right in counted if right]

    def _unlisted(self) -> Iterator[str]:
        if self._brief:
            yield f"Not listed: {self._brief} alarm{'s' if self._brief > 1 else ''} that came and went within a second."

    def _trouble_rows(self) -> list[tuple[str, str]]:
        return [
            (
                "it did not come"
                if not trouble.came
                else "all along"
                if trouble.began_s is None
                else self._clock(trouble.began_s),
                trouble.text[0].upper() + trouble.text[1:],
            )
            for trouble in self._review.troubles
        ]

    def _done_row(self, done: Done) -> tuple[str, ...]:
        at_s, event, changed = done
        return self._clock(at_s), self._since_began(at_s), self._house(event.station), _did(event.kind, changed=changed)

    def _alarm_row(self, alarm: Told) -> tuple[str, ...]:
        acked = "no" if alarm.calls else "under another"
        if alarm.acked_s is not None:
            acked = f"after {_length(alarm.acked_s - alarm.told_s)}"
        over = "still open" if alarm.over_s is None else f"after {_length(alarm.over_s - alarm.told_s)}"
        return self._clock(alarm.told_s), self._since_began(alarm.told_s), alarm.level, alarm.text, acked, over

    def _strike_row(self, strike: StrikeReview) -> tuple[str, ...]:
        whose = "yours" if strike.yours else "the crew's"
        window = f"{self._clock(strike.opens_s)} to {self._clock(strike.closes_s)}"
        struck = "" if strike.struck_s is None else self._clock(strike.struck_s)
        return self._house(strike.station), whose, struck, window, _strike_verdict(strike)

    def _tap_rows(self) -> Iterator[tuple[str, ...]]:
        """Every tap; what was missed at one house together."""
        yield from (self._tap_row(tap) for tap in self._review.taps if tap.verdict != "missed")
        missed: dict[str, list[TapReview]] = {}
        for tap in self._review.taps:
            if tap.verdict == "missed":
                missed.setdefault(tap.station, []).append(tap)
        for first, *more in missed.values():
            house, title, *times, verdict = self._tap_row(first)
            yield house, f"{title}, and {len(more)} more" if more else title, *times, verdict

    def _tap_row(self, tap: TapReview) -> tuple[str, ...]:
        times = ["" if at_s is None else self._clock(at_s) for at_s in (tap.tapped_s, tap.passed_s)]
        return self._house(tap.station), self._mark_title(tap.mark), *times, self._tap_verdict(tap)

    def _tap_verdict(self, tap: TapReview) -> str:
        if tap.verdict == "wrong house":
            return f"wrong house: it was {self._house(tap.meant)}"
        if tap.verdict == "wrong mark":
            return f"wrong mark: it was {self._mark_title(tap.meant or '')}"
        if tap.verdict == "not there":
            return "nothing went by then"
        if tap.error_s is None or tap.verdict in {"missed", "again"}:
            return "tapped twice" if tap.verdict == "again" else tap.verdict
        off = f"{abs(tap.error_s):.1f} s {'late' if tap.error_s > 0.0 else 'early'}"
        return f"right ({off})" if tap.verdict == "right" else off

    def _link_row(self, link: LinkReview) -> tuple[str, ...]:
        left = f"{link.left_s:.2f} s, {'loose' if link.slack_s > 0.0 else 'tight'}" if link.left_s > 0.0 else "none"
        feet = [f"{feet:.0f} ft" if feet >= _LEAST_FT else "" for feet in (link.spilled_ft, link.pulled_ft)]
        return self._link(link.link), left, self._clock(link.worst_s), *feet

    def _gone(self) -> list[DarkReview]:
        return [dark for dark in self._review.dark if dark.dark_s >= _LEAST_S]

    def _house(self, station: str | None) -> str:
        return house_of(station, self._plan)

    def _link(self, link: str) -> str:
        return link_of(link, self._plan)

    def _mark_title(self, mark: str) -> str:
        return {"head": "first picture", "end": "last picture"}.get(mark) or self._plan.mark(mark).title

    def _clock(self, at_s: float) -> str:
        return f"{(self._plan.zero + timedelta(seconds=at_s)).astimezone(self._plan.zone):%H:%M:%S}"

    def _since_began(self, at_s: float) -> str:
        if self._began_s is None:
            return ""
        after_s = at_s - self._began_s
        return f"{_length(after_s)}" if after_s >= 0.0 else "before"


def _strike_verdict(strike: StrikeReview) -> str:
    if strike.struck_s is None:
        return "never lit"
    if strike.verdict == "early":
        return f"{_length(strike.opens_s - strike.struck_s)} early"
    if strike.verdict == "late":
        dark = f", gate dark for {_length(strike.struck_s - strike.head_s)}" if strike.struck_s > strike.head_s else ""
        return f"{_length(strike.struck_s - strike.closes_s)} late{dark}"
    return "in time"


def _did(kind: str, *, changed: bool) -> str:
    return f"you {_DID[kind]}" if changed else f"you {_DID[kind]}: nothing changed"


def _feet(link: LinkReview) -> str:
    told = ((link.spilled_ft, "on the floor"), (link.pulled_ft, "pulled tight"))
    return " and ".join(f"{feet:.0f} ft {what}" for feet, what in told if feet >= _LEAST_FT)


def _length(seconds: float) -> str:
    if round(seconds, 1) < 10.0:
        return f"{seconds:.1f} s"
    return f"{seconds:.0f} s" if seconds < 600.0 else f"{seconds / 60.0:.0f} min"
