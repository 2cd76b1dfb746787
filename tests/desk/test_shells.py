"""The booth desk's service worker: which files it keeps, and that it changes whenever they do."""

import json
import shutil
from pathlib import Path

import pytest

from server.desk.pages import web_folder
from server.desk.shells import shell_files, worker_text
from tests.repository.test_browser_code import reached

WEB = web_folder()


@pytest.fixture
def web(tmp_path: Path) -> Path:
    """A copy of our own files."""
    return Path(shutil.copytree(WEB, tmp_path / "web", ignore=shutil.ignore_patterns("node_modules", "vendor")))


def test_everything_the_desk_loads_is_kept() -> None:
    """The page, its styles, and every module that its script leads to: without one of them it would not load."""
    kept = shell_files(WEB)
    modules = {*reached(WEB / "js/main/booth.js"), WEB / "js/main/booth.js"}
    wanted = {f"/static/{path.relative_to(WEB).as_posix()}" for path in modules}
    assert {"/booth", "/static/css/tokens.css", "/static/css/base.css", *wanted} - kept.keys() == set()


def test_the_worker_begins_with_the_list_of_files(web: Path) -> None:
    """The list is one line of JSON, and the worker's own text follows it."""
    first, _, rest = worker_text(web).partition("\n")
    assert json.loads(first.removeprefix("self.SHELL = ").removesuffix(";")) == {"files": shell_files(web)}
    assert rest == (web / "js/worker/booth.js").read_text(encoding="utf-8")


def test_a_changed_file_is_a_new_worker(web: Path) -> None:
    """A browser takes the files again if the worker's text differs: so it does, and only for what changed."""
    before, files = worker_text(web), shell_files(web)
    assert worker_text(web) == before
    changed = web / "js/taps.js"
    changed.write_text(changed.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert worker_text(web) != before
    now = shell_files(web)
    assert [path for path in now if now[path] != files.get(path)] == ["/static/js/taps.js"]
