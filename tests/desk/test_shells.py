"""The service worker of the pages for a tablet: which files it keeps, and that it changes whenever they do."""

import json
import shutil
from pathlib import Path

import pytest

from server.desk.pages import web_folder
from server.desk.shells import KEPT_PAGES, shell_files, worker_text
from tests.repository.test_browser_code import reached

WEB = web_folder()


@pytest.fixture
def web(tmp_path: Path) -> Path:
    """A copy of our own files."""
    return Path(shutil.copytree(WEB, tmp_path / "web", ignore=shutil.ignore_patterns("node_modules", "vendor")))


@pytest.mark.parametrize("page", KEPT_PAGES)
def test_everything_the_page_loads_is_kept(page: str) -> None:
    """The page, its styles, and every module that its script leads to: without one of them it would not load."""
    kept = shell_files(WEB)
    main = WEB / f"js/main{page}.js"
    modules = {*reached(main), main}
    wanted = {f"/static/{path.relative_to(WEB).as_posix()}" for path in modules}
    assert len(wanted) > 10
    assert {page, "/static/css/tokens.css", "/static/css/base.css", *wanted} - kept.keys() == set()


def test_the_worker_begins_with_the_list_of_files(web: Path) -> None:
    """The list is one line of JSON, and the worker's own text follows it."""
    first, _, rest = worker_text(web).partition("\n")
    assert json.loads(first.removeprefix("self.SHELL = ").removesuffix(";")) == {"files": shell_files(web)}
    assert rest == (web / "js/worker/booth.js").read_text(encoding="utf-8")


def test_a_changed_file_is_a_new_worker(web: Path) -> None:
    """A browser takes the files again if the worker's text differs: so it does, and only for what changed."""
    before, files = worker_text(web), shell_files(web)
    assert worker_text(web) == before
    changed = web / "js/booth/taps.js"
    changed.write_text(changed.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    assert worker_text(web) != before
    now = shell_files(web)
    assert [path for path in now if now[path] != files.get(path)] == ["/static/js/booth/taps.js"]
