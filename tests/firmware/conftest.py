"""The firmware, built once for the tests of a process."""

import pytest

from tests.firmware.boxes import Board, LineLibrary


@pytest.fixture(scope="session")
def library(tmp_path_factory: pytest.TempPathFactory) -> LineLibrary:
    return LineLibrary(tmp_path_factory.mktemp("library"))


@pytest.fixture(scope="session")
def board(tmp_path_factory: pytest.TempPathFactory) -> Board:
    return Board(tmp_path_factory.mktemp("board"))
