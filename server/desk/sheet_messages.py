"""What goes over HTTP about the sheets of a plan, and about what is ticked off on a tablet."""

from server.desk.messages import Wire


class SheetLine(Wire):
    """One sheet: the stem of its page's name, its title, and what it is for."""

    name: str
    title: str
    about: str


class SheetList(Wire):
    """The sheets of a plan as it is kept; `against` counts what was found that cannot work."""

    name: str
    base: str
    saved_at: str
    saved_by: str
    against: int
    sheets: list[SheetLine]


class ThreadingTick(Wire):
    """One thing to be ticked off; `key` is the same in every version of a plan in which the thing is the same."""

    key: str
    where: str
    what: str


class ThreadingStep(ThreadingTick):
    """One step of the lacing; `begins_s` is seconds after `zero`."""

    number: int
    people: int
    minutes: float
    begins_s: float
    caution: str | None


class ThreadingList(Wire):
    """What is to be laced and checked, in order, by `crew` people; seconds count from `zero` (RFC 3339), the motors.

    `base` names the text of the plan. `now` is the server's clock: a tablet's may be wrong. `rule` holds
    throughout, `cautions` wherever film moves.
    """

    name: str
    base: str
    title: str
    site: str
    zero: str
    timezone: str
    saved_at: str
    saved_by: str
    now: str
    against: int
    crew: int
    minutes: float
    begin_s: float
    ready_s: float
    leader_ft: float
    steps: list[ThreadingStep]
    marks: list[ThreadingTick]
    machines: list[ThreadingTick]
    cues: list[ThreadingTick]
    rule: str
    cautions: list[str]
