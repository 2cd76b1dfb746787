"""Our own scripts, styles and pages."""

import re
from html.parser import HTMLParser
from pathlib import Path, PurePosixPath

import pytest

from tests.repository.checkout import ROOT, committed_files

WEB = ROOT / "web"
SCRIPTS = [path for path in committed_files() if path.suffix == ".js"]
PAGES = [path for path in committed_files() if path.suffix == ".html"]
IMPORT = re.compile(r"""^\s*(?:import|export)\b(?:[\w\s{},*$]+\bfrom\b)?\s*["']([^"']+)["']""", re.MULTILINE)
STYLE_STRING = re.compile(r"""\bstyle\s*=\s*["'](?!["'])""")
OUTSIDE = re.compile(r"https?://(?!www\.w3\.org/)")


def name_below_root(path: Path) -> str:
    return path.relative_to(ROOT).as_posix()


def imports(script: Path) -> list[Path]:
    """The files that a script imports by relative path."""
    names = IMPORT.findall(script.read_text(encoding="utf-8"))
    return [(script.parent / name).resolve() for name in names if name.startswith(".")]


def reached(script: Path) -> set[Path]:
    """Every file that comes with a script: its imports, and theirs."""
    found: set[Path] = set()
    waiting = [script]
    while waiting:
        new = [path for path in imports(waiting.pop()) if path not in found and path.is_file()]
        found.update(new)
        waiting.extend(new)
    return found


@pytest.mark.parametrize("script", [path for path in SCRIPTS if path.name.endswith(".test.js")], ids=name_below_root)
def test_a_test_lies_where_what_it_tests_does(script: Path) -> None:
    """`tests/web` mirrors `web/js`."""
    folder = WEB / "js" / script.parent.relative_to(ROOT / "tests/web")
    assert folder in {found.parent for found in imports(script)}


@pytest.mark.parametrize("script", SCRIPTS, ids=name_below_root)
def test_every_script_is_type_checked(script: Path) -> None:
    """`// @ts-check` stands on the first line, so an editor checks what tests/run checks."""
    assert script.read_text(encoding="utf-8").startswith("// @ts-check\n")


def test_no_type_of_a_message_is_written_down_again() -> None:
    """What goes over the wire is said once, by the server: the browser's types are made from that."""
    assert [path.name for path in committed_files() if path.name.endswith(".d.ts")] == []
    assert "/web/js/wire.d.ts" in (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()


@pytest.mark.parametrize("script", SCRIPTS, ids=name_below_root)
def test_no_script_is_third_party_or_minified(script: Path) -> None:
    """Committed scripts are ours, in lines a person can read."""
    text = script.read_text(encoding="utf-8")
    assert max(map(len, text.splitlines())) <= 500
    assert not re.search(r"@license|copyright|sourceMappingURL", text, re.IGNORECASE)


@pytest.mark.parametrize("script", SCRIPTS, ids=name_below_root)
def test_no_script_writes_a_style_attribute(script: Path) -> None:
    """The content policy refuses style attributes; what varies is set through the style object."""
    assert STYLE_STRING.findall(script.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", [*SCRIPTS, *PAGES, *sorted(WEB.glob("css/*.css"))], ids=name_below_root)
def test_a_desk_needs_no_other_site(path: Path) -> None:
    """Everything a desk shows comes from the server it is on: a booth may have no way out."""
    assert OUTSIDE.findall(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("script", sorted((WEB / "js").rglob("*.js")), ids=name_below_root)
def test_every_import_of_the_browser_is_a_file(script: Path) -> None:
    """The browser resolves no bare names, and nothing imports what is not there."""
    names = IMPORT.findall(script.read_text(encoding="utf-8"))
    missing = [name for name in names if not name.startswith(".") or not (script.parent / name).resolve().is_file()]
    assert missing == []


@pytest.mark.parametrize("element", sorted((WEB / "js" / "elements").glob("*.js")), ids=name_below_root)
def test_elements_know_neither_connection_nor_store(element: Path) -> None:
    """An element is given what it shows; no chain of imports leads from it to the server."""
    assert {path.stem for path in reached(element)} & {"connection", "store"} == set()


class PageReader(HTMLParser):
    """Collects what the content policy forbids, and every file a page asks for."""

    def __init__(self) -> None:
        super().__init__()
        self.inline: list[str] = []
        self.files: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        if tag == "style" or (tag == "script" and "src" not in given):
            self.inline.append(tag)
        self.inline += [name for name in given if name == "style" or name.startswith("on")]
        self.files += [value for name, value in attrs if name == "src" or (name == "href" and tag == "link") if value]


@pytest.mark.parametrize("html", PAGES, ids=name_below_root)
def test_no_page_has_inline_script_or_style(html: Path) -> None:
    """The content policy refuses both."""
    reader = PageReader()
    reader.feed(html.read_text(encoding="utf-8"))
    assert reader.inline == []


@pytest.mark.parametrize("html", PAGES, ids=name_below_root)
def test_every_file_a_page_asks_for_is_there(html: Path) -> None:
    """A page asks for files of web/ alone, by the address the server gives them."""
    reader = PageReader()
    reader.feed(html.read_text(encoding="utf-8"))
    missing = [name for name in reader.files if not (WEB / PurePosixPath(name).relative_to("/static")).is_file()]
    assert missing == []
