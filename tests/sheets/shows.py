"""Shows for the tests of what goes on paper, and pages read as a browser reads them."""

from html.parser import HTMLParser
from pathlib import Path

from server.planning.judge import judgement_of
from server.planning.next_show import next_show_of
from server.planning.night import judge_night
from server.planning.site_model import Site
from server.sheets.folder import sheets_of
from server.sheets.page import page_of
from server.sheets.show import Show
from server.timeline.plan import Plan, parse_plan
from server.timeline.schedule import schedule_from_plan

PLANS = Path(__file__).parents[2] / "fixtures" / "plans"
NAMES = ("interval", "larkspur", "pair", "sixteen", "warned")

_VOID = {"meta", "col", "br", "hr", "img", "input", "link"}


def plan_named(name: str) -> Plan:
    """One of the plans of the fixtures."""
    return parse_plan((PLANS / f"{name}.plan.toml").read_text(), name)


def show_of(plan: Plan, site: Site | None = None, crew: int | None = None) -> Show:
    """A plan with all that follows from it."""
    return Show(
        plan,
        schedule_from_plan(plan),
        judgement_of(plan, site, crew),
        next_show_of(plan, site, crew),
        judge_night([plan], site, crew),
        crew,
    )


def pages_of(show: Show) -> dict[str, str]:
    """Every sheet as a page, by its file's stem."""
    return {sheet.name: page_of(sheet, show) for sheet in sheets_of(show)}


class Read(HTMLParser):
    """A page read through: its words, rows, links and tags; a tag that is not closed in its place is an error."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.open: list[str] = []
        self.tags: set[str] = set()
        self.links: list[str] = []
        self.boxes = 0
        self.words: list[str] = []
        self.rows: list[list[str]] = []
        self.feed(page)
        self.close()
        assert self.open == []

    @property
    def text(self) -> str:
        """All that is read on it, with single spaces."""
        return " ".join(" ".join(self.words).split())

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.tags.add(tag)
        self.links += [value for name in ("href", "src") if (value := given.get(name)) is not None]
        self.boxes += given.get("class") == "box"
        if tag == "tr":
            self.rows.append([])
        if tag in {"td", "th"}:
            self.rows[-1].append("")
        if tag not in _VOID:
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" in self.open:
            return
        self.words.append(data)
        if "td" in self.open or "th" in self.open:
            self.rows[-1][-1] += data
