"""Site files that are kept beside the plans."""

import os
from pathlib import Path

import pytest

from server.planning.site import SiteFaults, parse_site
from server.plans.site_store import SiteFault, SiteStore, SiteThere
from tests.plans.sites import BROKEN, SITE


@pytest.fixture
def store(tmp_path: Path) -> SiteStore:
    return SiteStore(tmp_path / "sites")


def put(folder: Path, name: str, text: str) -> Path:
    path = folder / "sites" / name
    path.parent.mkdir(exist_ok=True)
    path.write_text(text, encoding="utf-8")
    return path


def test_a_site_is_kept_by_its_name_as_it_was_written(store: SiteStore, tmp_path: Path) -> None:
    """Its file is called by its name, and has every letter of it; nothing is made before."""
    assert (store.sites(), list(tmp_path.iterdir())) == ([], [])
    kept, changed = store.keep(SITE, "")
    assert (kept.name, kept.called, changed) == ("quarry-lane", "Quarry Lane", True)
    assert (tmp_path / "sites/quarry-lane.site.toml").read_text(encoding="utf-8") == SITE
    assert kept.site == parse_site(SITE, "x")
    assert store.keep(SITE, "")[1] is False


def test_a_plan_takes_the_site_of_its_name(store: SiteStore, tmp_path: Path) -> None:
    """Whatever the case; the file's own name does not matter, and of two with one name the first is taken."""
    put(tmp_path, "our house.site.toml", SITE)
    put(tmp_path, "x.site.toml", SITE + "\n")
    for called in ("Quarry Lane", " quarry  LANE "):
        found = store.for_plan(called)
        assert found is not None
        assert found.name == "our house"
    assert [store.for_plan(other) for other in ("Quarry", "", None, 3)] == [None] * 4


def test_another_text_of_a_site_is_kept_only_in_place_of_the_one_that_is_named(
    store: SiteStore, tmp_path: Path
) -> None:
    """The question has to be about what is there: what was written meanwhile is asked about anew."""
    path = put(tmp_path, "our.site.toml", SITE)
    other = SITE.replace("101.5", "99")
    with pytest.raises(SiteThere) as there:
        store.keep(other, "")
    assert str(there.value) == "sites/our.site.toml is there already, and differs."
    path.write_text(SITE.replace("101.5", "98"), encoding="utf-8")
    with pytest.raises(SiteThere) as meanwhile:
        store.keep(other, there.value.kept.base)
    assert store.keep(other, meanwhile.value.kept.base)[0].name == "our"
    assert path.read_text(encoding="utf-8") == other


def test_a_text_with_faults_is_not_kept(store: SiteStore, tmp_path: Path) -> None:
    """All faults at once; nothing is written."""
    with pytest.raises(SiteFaults) as faults:
        store.keep(BROKEN, "")
    assert len(faults.value.faults) == 2
    assert list(tmp_path.iterdir()) == []


def test_a_file_that_somebody_put_there_with_faults_is_told_by_line(store: SiteStore, tmp_path: Path) -> None:
    """It is found by its name, so that a plan's desk can say why nothing of it is taken."""
    put(tmp_path, "a.site.toml", BROKEN)
    (tmp_path / "sites/b.site.toml").write_bytes(b"\xff")
    put(tmp_path, "c.site.toml", "[")
    broken, binary, none = store.sites()
    assert [fault.line for fault in broken.faults] == [25, 37]
    assert broken.faults[1].text.startswith("walks[0].walk_s: found 'far'; accepted a number")
    assert (broken.called, broken.site) == ("Quarry Lane", None)
    assert binary.faults == (SiteFault(0, "b.site.toml is no text in UTF-8: save it as that in an editor."),)
    assert (none.called, len(none.faults)) == ("", 1)


def test_a_file_is_read_anew_once_it_is_another(store: SiteStore, tmp_path: Path) -> None:
    """What `festoon learn` writes into it counts at once, also where it is as long as before."""
    path = put(tmp_path, "a.site.toml", SITE)
    before = store.for_plan("Quarry Lane")
    assert store.for_plan("Quarry Lane") is before
    path.write_text(SITE.replace("101.5", "101.4"), encoding="utf-8")
    os.utime(path, ns=(path.stat().st_mtime_ns + 1_000_000, path.stat().st_mtime_ns + 1_000_000))
    after = store.for_plan("Quarry Lane")
    assert before is not None
    assert after is not None
    assert before.base != after.base


def test_a_link_is_no_site(store: SiteStore, tmp_path: Path) -> None:
    """Whatever it leads to would be read, and written over."""
    put(tmp_path, "a.site.toml", SITE).rename(tmp_path / "elsewhere")
    (tmp_path / "sites/a.site.toml").symlink_to(tmp_path / "elsewhere")
    assert store.sites() == []
    assert store.keep(SITE, "")[0].name == "quarry-lane"
