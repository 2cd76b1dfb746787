"""Plans in a folder: every version kept, nothing overwritten unseen, no way out of the folder."""

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from server.plans.store import OUTSIDE, Kept, PlanFault, PlanStore, SavedMeanwhile, name_from_title

NOON = datetime(2026, 3, 14, 12, 0, tzinfo=UTC)
TRICKS = [
    *("../secret", "..", ".", "", "a/b", "a\\b", "/etc/passwd", "a\0b", "a.plan.toml/..", "versions/a/0001", ".hidden"),
    *("a\n", " a", "a ", "é", "a" * 90, "%2e%2e"),
]


@pytest.fixture
def store(tmp_path: Path) -> PlanStore:
    (tmp_path / "secret.plan.toml").write_text("secret", encoding="utf-8")
    return PlanStore(tmp_path / "plans")


def saved(store: PlanStore, kept: Kept, text: str, minutes: int, by: str = "Bo") -> Kept:
    return store.save(kept.name, text, kept.base, NOON + timedelta(minutes=minutes), by)


def test_a_plan_is_kept_as_one_file_by_its_title(store: PlanStore, tmp_path: Path) -> None:
    """The file has the very text; a second plan of the same title has a name of its own."""
    kept = store.create("Lantern Night: Émile's", "a = 1\r\n", NOON, "Ada")
    assert (kept.name, kept.at, kept.by) == ("lantern-night-emiles", NOON, "Ada")
    assert (tmp_path / "plans/lantern-night-emiles.plan.toml").read_bytes() == b"a = 1\r\n"
    assert store.create("Lantern Night: Émile's", "", NOON, "Ada").name == "lantern-night-emiles-2"
    assert store.names() == ["lantern-night-emiles", "lantern-night-emiles-2"]
    assert name_from_title("???") == "plan"


def test_every_saved_version_is_kept_with_its_time_and_who(store: PlanStore, tmp_path: Path) -> None:
    """The same text again is no version; each is a file that can be used as it is."""
    first = store.create("Pair", "a = 1\n", NOON, "Ada")
    second = saved(store, first, "a = 2\n", 1)
    assert saved(store, second, "a = 2\n", 2) == second
    third = saved(store, second, "a = 1\n", 3, "Ada")
    versions = store.versions("pair")
    assert [(one.number, one.by, one.text) for one in versions] == [
        (1, "Ada", "a = 1\n"),
        (2, "Bo", "a = 2\n"),
        (3, "Ada", "a = 1\n"),
    ]
    assert versions[1].at == NOON + timedelta(minutes=1)
    assert (third.base, third.at) == (first.base, NOON + timedelta(minutes=3))
    file = tmp_path / "plans/versions/pair/0002.plan.toml"
    assert file.read_text(encoding="utf-8") == "# Saved 2026-03-14T12:01:00Z by Bo\na = 2\n"


def test_who_saves_what_is_not_there_any_more_is_told(store: PlanStore) -> None:
    """The second of two is told what the first one saved, and nothing is written."""
    first = store.create("Pair", "a = 1\n", NOON, "Ada")
    saved(store, first, "a = 2\n", 1)
    with pytest.raises(SavedMeanwhile) as told:
        saved(store, first, "a = 3\n", 2)
    assert (told.value.kept.text, told.value.kept.by) == ("a = 2\n", "Bo")
    assert [one.text for one in store.versions("pair")] == ["a = 1\n", "a = 2\n"]


def test_the_very_text_that_is_kept_is_no_conflict(store: PlanStore) -> None:
    """Who saves twice, or the same as somebody else meanwhile, is told of no conflict and makes no version."""
    first = store.create("Pair", "a = 1\n", NOON, "Ada")
    second = saved(store, first, "a = 2\n", 1)
    assert saved(store, first, "a = 2\n", 2, "Ada") == second
    assert [(one.text, one.by) for one in store.versions("pair")] == [("a = 1\n", "Ada"), ("a = 2\n", "Bo")]


def test_what_was_changed_in_the_file_itself_is_a_version_too(store: PlanStore, tmp_path: Path) -> None:
    """A person's own edit is seen at once, and is kept before anything is saved over it."""
    store.create("Pair", "a = 1\n", NOON, "Ada")
    path = tmp_path / "plans/pair.plan.toml"
    path.write_text("a = 5\n", encoding="utf-8")
    os.utime(path, (NOON.timestamp() + 60, NOON.timestamp() + 60))
    kept = store.kept("pair")
    assert (kept.text, kept.by, kept.at) == ("a = 5\n", OUTSIDE, NOON + timedelta(minutes=1))
    assert [one.text for one in store.versions("pair")] == ["a = 1\n", "a = 5\n"]
    saved(store, kept, "a = 6\n", 2)
    assert [(one.text, one.by) for one in store.versions("pair")][1:] == [("a = 5\n", OUTSIDE), ("a = 6\n", "Bo")]


def test_a_file_that_was_copied_into_the_folder_is_a_plan(store: PlanStore, tmp_path: Path) -> None:
    """It needs no version to be opened, and its name may have capitals and blanks."""
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans/My Plan_2.plan.toml").write_bytes(b"\xef\xbb\xbfa = 1\n")
    assert store.names() == ["My Plan_2"]
    assert (store.kept("My Plan_2").text, len(store.versions("My Plan_2"))) == ("a = 1\n", 1)


@pytest.mark.parametrize("name", TRICKS)
def test_no_name_leads_out_of_the_folder(store: PlanStore, name: str) -> None:
    """What is no plain name is no plan: nothing is read, and nothing written."""
    store.create("Pair", "a = 1\n", NOON, "Ada")
    for act in (store.kept, store.versions, lambda name: store.save(name, "x", "", NOON, "Ada")):
        with pytest.raises(PlanFault) as told:
            act(name)
        assert told.value.status == 404


def test_links_and_strange_names_are_told_and_not_opened(store: PlanStore, tmp_path: Path) -> None:
    """A link in the folder leads nowhere, whatever it is called."""
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans/link.plan.toml").symlink_to(tmp_path / "secret.plan.toml")
    (tmp_path / "plans/größe.plan.toml").write_text("", encoding="utf-8")
    assert (store.names(), store.strange()) == ([], ["größe.plan.toml", "link.plan.toml"])
    with pytest.raises(PlanFault):
        store.kept("link")
    assert store.create("link", "a = 1\n", NOON, "Ada").name == "link-2"
    assert (tmp_path / "secret.plan.toml").read_text(encoding="utf-8") == "secret"


def test_a_file_that_is_no_text_is_told(store: PlanStore, tmp_path: Path) -> None:
    """Nothing is made of bytes that are no UTF-8: saved again they would be lost."""
    (tmp_path / "plans").mkdir()
    (tmp_path / "plans/pair.plan.toml").write_bytes(b'title = "\xe9"\n')
    with pytest.raises(PlanFault, match="no text in UTF-8"):
        store.kept("pair")


def test_what_cannot_be_written_leaves_the_plan_as_it_was(
    store: PlanStore, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A full disk ends in an error, with the old text whole and no piece of the new one beside it."""
    first = store.create("Pair", "a = 1\n", NOON, "Ada")

    def full(_descriptor: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(OSError, match="No space left"):
        saved(store, first, "a = 2\n", 1)
    monkeypatch.undo()
    assert (store.kept("pair").text, len(store.versions("pair"))) == ("a = 1\n", 1)
    left = sorted(path.name for path in (tmp_path / "plans").rglob("*") if path.is_file())
    assert left == ["0001.plan.toml", "pair.plan.toml"]


def test_a_version_whose_first_line_was_changed_is_still_there(store: PlanStore, tmp_path: Path) -> None:
    """A hand in the folder of the versions loses who saved it, and nothing else."""
    store.create("Pair", "a = 1\n", NOON, "Ada")
    (tmp_path / "plans/versions/pair/0001.plan.toml").write_text("a = 1\n", encoding="utf-8")
    assert [(one.text, one.by) for one in store.versions("pair")] == [("a = 1\n", OUTSIDE)]


def test_a_version_that_is_no_text_does_not_keep_its_plan_away(store: PlanStore, tmp_path: Path) -> None:
    """A folder of a version's name, and a version that is no text, are passed over."""
    kept = store.create("Pair", "a = 1\n", NOON, "Ada")
    versions = tmp_path / "plans/versions/pair"
    (versions / "0008.plan.toml").mkdir()
    (versions / "0009.plan.toml").write_bytes(b"\xff\xfe")
    assert store.kept("pair") == kept
    assert [one.number for one in store.versions("pair")] == [1]


def test_a_kept_file_can_be_read_by_whoever_may_read_the_folder(store: PlanStore, tmp_path: Path) -> None:
    """As any file that somebody makes there, and without a byte order mark."""
    store.create("Pair", "\ufeffa = 1\n", NOON, "Ada")
    (tmp_path / "plans/other").touch()
    path = tmp_path / "plans/pair.plan.toml"
    assert path.stat().st_mode == (tmp_path / "plans/other").stat().st_mode
    assert path.read_bytes() == b"a = 1\n"
    assert store.kept("pair").by == "Ada"
