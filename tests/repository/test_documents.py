"""README.md, DEVELOPERS.md and what folders say of themselves name what there is."""

import ast
import re
from typing import get_args

import pytest

from adapters.contacts.kinds import WHATS
from adapters.contacts.lines import Line, line_from_bytes
from adapters.contacts.wiring import read_wiring
from server.archive.desk import PAGES as ARCHIVE_PAGES
from server.contact_boards import CONTACT_KINDS
from server.desk.pages import PAGES
from server.planning.site import parse_site
from server.planning.site_model import Deck, House, Path, Site
from server.timeline.alarm_kinds import ALARM_KINDS, Subject
from server.timeline.event_kinds import EventKind
from server.timeline.plan import parse_plan
from server.timeline.plan_model import Inputs, Lamp, ThreadingRules, Timing
from server.timeline.view import Phase, PromptView
from tests.repository.checkout import ROOT, committed_files

README = (ROOT / "README.md").read_text(encoding="utf-8")
DOCUMENTS = {path: path.read_text(encoding="utf-8") for path in committed_files() if path.suffix == ".md"}
EVERY = "\n".join(DOCUMENTS.values())
HALL_LINES, ROOM_LINES = 250, 80
"""Chosen: what is read in a quarter of an hour, and what a screen or two holds."""
LINK = re.compile(r"\[[^\]]*\]\(([^)#]+)\)")
# What is to be done about a house's report depends on what is reported.
SUBJECTS: dict[str, Subject] = {
    **{subject: subject for subject in ("station", "link", "source", "chain")},
    "booth, or chain for all": "booth",
}
FENCED_TOML = re.compile(r"```toml\n(.*?)```", re.DOTALL)


def in_code(document: str) -> set[str]:
    """Every word that stands between backticks."""
    return {word for span in re.findall(r"`([^`\n]+)`", document) for word in re.findall(r"[\w>:]+", span)}


def environment_variables() -> set[str]:
    return set(re.findall(r"\bFESTOON_[A-Z]+\b", (ROOT / "server" / "settings.py").read_text(encoding="utf-8")))


def warning_codes() -> set[str]:
    """The first argument of every PlanWarning that the schedule makes."""
    tree = ast.parse((ROOT / "server" / "timeline" / "schedule.py").read_text(encoding="utf-8"))
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)]
    codes = {ast.literal_eval(call.args[0]) for call in calls if getattr(call.func, "id", "") == "PlanWarning"}
    assert codes
    return codes


def wiring_words() -> set[str]:
    """Every key and word of a wiring file: what its reader accepts and asks for."""
    files = [*(ROOT / "adapters" / "contacts").glob("*.py")]
    trees = [ast.parse(path.read_text(encoding="utf-8")) for path in files]
    taken = {"take", "text", "identifier", "whole", "number", "word", "_known"}
    keys = {
        argument.value
        for tree in trees
        for call in ast.walk(tree)
        if isinstance(call, ast.Call) and _called(call) in taken
        for argument in call.args[:2]
        if isinstance(argument, ast.Constant) and isinstance(argument.value, str)
    }
    assert {"input", "debounce_ms", "poll_ms", "silent_s"} <= keys
    return keys | set(CONTACT_KINDS) | set(WHATS)


def _called(call: ast.Call) -> str:
    return call.func.attr if isinstance(call.func, ast.Attribute) else getattr(call.func, "id", "")


def section(title: str) -> str:
    """The part of a document under one heading, up to the next of its rank."""
    pattern = re.compile(rf"^(#+) {re.escape(title)}.*?\n(.*?)(?=^\1 |\Z)", re.DOTALL | re.MULTILINE)
    found = next(filter(None, map(pattern.search, DOCUMENTS.values())), None)
    assert found, f"no document has a section {title!r}"
    return found.group(2)


def test_the_readme_names_every_setting() -> None:
    """Whoever runs Festoon can look up all that the environment may say."""
    assert environment_variables() - in_code(README) == set()


def test_the_readme_names_every_page() -> None:
    """Whoever looks for a desk finds its address; a device is led to `/pair` by a code."""
    addresses = set(re.findall(r"`(/[a-z]*)[^`]*`", README))
    assert {*PAGES, *ARCHIVE_PAGES} - {"/", "/pair"} - addresses == set()


def test_the_folders_of_the_browser_code_are_in_its_readme() -> None:
    """A new desk says where it lies."""
    folders = {path.name for path in (ROOT / "web/js").iterdir() if path.is_dir()}
    rows = re.findall(r"^\| (`[^|]*) \|", DOCUMENTS[ROOT / "web" / "README.md"], re.MULTILINE)
    assert folders - {word for row in rows for word in re.findall(r"`([a-z]+)`", row)} == set()


def test_the_documents_name_no_setting_that_is_not_there() -> None:
    """A variable that a document names does something."""
    assert set(re.findall(r"\bFESTOON_[A-Z]+\b", EVERY)) == environment_variables()


@pytest.mark.parametrize(
    ("title", "names"),
    [
        ("Recording", set(get_args(EventKind))),
        ("Alarms and prompts", set(ALARM_KINDS)),
        ("Alarms and prompts", set(get_args(PromptView.__annotations__["kind"]))),
        ("The model", set(get_args(Phase)) - {"tail"}),
        ("Schedule", warning_codes()),
        ("Wiring", wiring_words()),
        ("Plan:", {name for table in (Timing, ThreadingRules, Lamp, Inputs) for name in table.model_fields}),
    ],
    ids=["event kinds", "alarm kinds", "prompt kinds", "phases", "warning codes", "wiring", "plan keys"],
)
def test_the_reference_names_all_there_is(title: str, names: set[str]) -> None:
    """Every word that a file, a message or a screen can hold is explained where its format is."""
    assert names - in_code(section(title)) == set()


@pytest.mark.parametrize("title", ["Alarms and prompts"])
def test_the_alarm_table_names_no_alarm_that_is_not_there(title: str) -> None:
    """A row of the table is an alarm that the engine can raise, about what the row says."""
    rows = re.findall(rf"^\| (`[^|]+) \| ({'|'.join(SUBJECTS)}) \|", section(title), re.MULTILINE)
    told = {word: SUBJECTS[subject] for kinds, subject in rows for word in in_code(kinds)}
    assert told == {kind: row.subject for kind, row in ALARM_KINDS.items()}


def test_each_main_command_is_one_line_of_the_readme() -> None:
    """To see it run is one line, and to check it is one line."""
    lines = README.splitlines()
    assert lines.count("    python3 -m venv .venv && .venv/bin/pip install -e . && .venv/bin/festoon demo") == 1
    assert lines.count("    bash tests/run") == 1


def test_the_plan_in_the_readme_is_a_plan() -> None:
    """The example can be copied into a file and used."""
    (text,) = FENCED_TOML.findall(README)
    assert parse_plan(text, "readme.plan.toml").title == "Lantern Night"


def test_the_site_file_in_the_documents_is_one() -> None:
    """Its table names every key that there is, and the example can be copied into a file and used."""
    (text,) = FENCED_TOML.findall(section("Site:"))
    assert parse_site(text, "site").path("4", "3") is not None
    ours = {name for table in (House, Path, Site, Deck) for name in table.model_fields} - {"houses", "deck", "lamp"}
    made = {"core_mm": "deck_core_mm", "roll_mm": "deck_roll_mm", "paths": "[[paths]]", "walks": "[[walks]]"}
    assert {made.get(name, name).strip("[]") for name in ours} - in_code(section("Site:")) == set()


def test_the_wiring_file_and_the_lines_of_a_box_in_the_documents_can_be_read() -> None:
    """Whoever wires a booth or builds a box can copy from them."""
    (text,) = FENCED_TOML.findall(section("Wiring"))
    plan = parse_plan(FENCED_TOML.findall(README)[0], "readme.plan.toml")
    assert [each.words for each in read_wiring(text, "n", plan, CONTACT_KINDS).inputs] == ["motor of House 3 (north/3)"]
    lines = re.findall(r"^    ([CL] [0-9].*)$", section("Text line"), re.MULTILINE)
    assert [type(line_from_bytes(line.encode())) for line in lines] == [Line, Line]


def test_links_between_documents_lead_somewhere() -> None:
    """Every file that a document points at is in the checkout."""
    targets = [
        path.parent / name
        for path, text in DOCUMENTS.items()
        for name in LINK.findall(text)
        if not name.startswith("http")
    ]
    assert targets
    assert [path for path in targets if not path.exists()] == []


def test_every_room_says_what_it_is_on_a_screen_or_two() -> None:
    """Whoever opens a folder of code finds what it is, what it may import, and how to add to it."""
    rooms = {path.parent for path in committed_files() if path.name == "__init__.py"}
    rooms = {path for path in rooms if path.parts[len(ROOT.parts)] == "server" and path.parent.name == "server"}
    rooms |= {ROOT / "adapters", ROOT / "adapters" / "drill", ROOT / "adapters" / "contacts", ROOT / "web"}
    assert [path for path in rooms if path / "README.md" not in DOCUMENTS] == []
    long = {path / "README.md" for path in rooms} - {ROOT / "adapters" / "contacts" / "README.md"}
    assert [path for path in long if DOCUMENTS[path].count("\n") > ROOM_LINES] == []
    assert DOCUMENTS[ROOT / "DEVELOPERS.md"].count("\n") <= HALL_LINES


def test_every_file_that_the_documents_name_is_there() -> None:
    """A path between backticks is a path of the checkout."""
    named = re.findall(r"`((?:server|adapters|web|tests|fixtures)/[\w./-]*)`", EVERY)
    made_at_install = "web/vendor/"
    missing = [name for name in named if not (ROOT / name).exists() and not name.startswith(made_at_install)]
    assert missing == ["server/desk/static"]
