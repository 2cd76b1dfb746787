"""Looks for bytes that one reader fails at, led by what of its code they reach, in a process that may die of them.

    python -m tests.bench.fuzz.one READER FOLDER -max_total_time=60

`FOLDER` has the inputs to begin with, and keeps those that reach more; all that follows is libFuzzer's own.
"""

import sys

import atheris

with atheris.instrument_imports(include=["server", "adapters"]):
    from tests.readers import READERS


def main() -> None:
    """Look until the time is over, or until something fails."""
    _, reader, *rest = sys.argv
    atheris.Setup([sys.argv[0], *rest], READERS[reader].read)
    atheris.Fuzz()


if __name__ == "__main__":
    main()
