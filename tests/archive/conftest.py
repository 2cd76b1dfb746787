"""An archive for every test that asks for one: one PostgreSQL a worker, one database a test."""

from collections.abc import Iterator

import pytest

from server.archive.place import ArchiveAddress, archive_address
from server.archive.roles import Given, add_reader, add_site
from server.archive.schema import upgrade
from tests.archive.cluster import Cluster, cluster


class Archive:
    """An archive with its tables; addresses are with keys."""

    def __init__(self, cluster: Cluster) -> None:
        self.cluster = cluster
        self.database = cluster.new_database()
        self.url = cluster.url(self.database)
        self.owner = archive_address(self.url).engine("tests", pool_pre_ping=True)
        upgrade(self.owner)

    @property
    def address(self) -> ArchiveAddress:
        return archive_address(self.url)

    def site(self, name: str, url: str = "http://127.0.0.1:8440") -> str:
        """Make a site; the address that it forwards to."""
        with self.owner.begin() as connection:
            return self._signed(add_site(connection, name, url))

    def reader(self, name: str, *of: str) -> str:
        """Make a reader of these sites, or of all; the address that it reads."""
        with self.owner.begin() as connection:
            return self._signed(add_reader(connection, name, of))

    def _signed(self, given: Given) -> str:
        return self.address.signed(given.role, given.key)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Cluster]:
    with cluster() as made:
        yield made


@pytest.fixture
def archive(postgres: Cluster) -> Iterator[Archive]:
    made = Archive(postgres)
    yield made
    made.owner.dispose()
