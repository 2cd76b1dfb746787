"""What is in the checkout, and what never is."""

import re

from tests.repository.checkout import ROOT, committed_files, committed_texts

TOP_LEVEL = {
    "DEVELOPERS.md",
    "LICENSE",
    "README.md",
    "adapters",
    "fixtures",
    "pyproject.toml",
    "server",
    "tests",
    "web",
}
# In two parts, so that this file does not say what it forbids.
PACKAGE_HOSTS = [
    ".".join(parts)
    for parts in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("yarnpkg", "com"),
        ("debian", "org"),
        ("unpkg", "com"),
        ("jsdelivr", "net"),
    )
]
MACHINE_PATH = re.compile(r"""(?:^|[\s"'`=(:])/(?:work|tmp|root)\b""", re.MULTILINE)


def test_the_top_level_holds_only_the_agreed_names() -> None:
    """Whoever opens the checkout sees nine names, and dotfiles."""
    found = {path.relative_to(ROOT).parts[0] for path in committed_files()}
    assert {name for name in found if not name.startswith(".")} == TOP_LEVEL


def test_no_file_names_a_package_registry() -> None:
    """The checkout installs from whatever registry its reader uses."""
    named = [(name, host) for name, text in committed_texts() for host in PACKAGE_HOSTS if host in text]
    assert named == []


def test_no_file_names_a_path_of_one_machine() -> None:
    """Nothing depends on where somebody once had the checkout."""
    named = [(name, found.group()) for name, text in committed_texts() for found in MACHINE_PATH.finditer(text)]
    assert named == []


def test_what_an_install_makes_is_ignored_by_git() -> None:
    """Third-party browser code, environments, logs and caches are never committed."""
    ignored = set((ROOT / ".gitignore").read_text(encoding="utf-8").splitlines())
    assert {"/web/vendor/", "/web/node_modules/", ".venv/", ".festoon/", "__pycache__/"} <= ignored


def test_no_package_is_a_drawer() -> None:
    """A module is named for what it holds; utils, helpers, common and manager say nothing."""
    drawers = {"util", "utils", "helper", "helpers", "common", "manager", "managers", "misc"}
    named = [path for path in committed_files() if drawers & {path.stem, path.parent.name}]
    assert named == []


def test_every_text_ends_with_a_line_end() -> None:
    """What is added below a last line changes no line above it."""
    fixtures = ROOT / "fixtures"
    texts = [(name, text) for name, text in committed_texts() if fixtures not in (ROOT / name).parents]
    assert [name for name, text in texts if text and not text.endswith("\n")] == []
