"""Looks for bytes that a reader fails at, led by what of its code they reach (libFuzzer, by atheris).

    pip install -e .[fuzz]
    python -m tests.bench.fuzz --seconds 60 [READER ...]

prints a row a reader: how many inputs were tried, how many branches of its code the sound files reach and how many were
reached at the end, and what failed. Where something did, the input is kept, and the command ends with 1.
"""

import argparse
import re
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

from rich.console import Console
from rich.table import Table

from tests.readers import READERS, Reader

LONGEST = 20_000
"""Bytes of an input at most: some times the longest sound file. Chosen."""

_STATUS = re.compile(r"^#(\d+)\s+(\w+)\s+cov: (\d+)", re.MULTILINE)


class Row(NamedTuple):
    """What came of one reader; `failed` is empty where nothing did."""

    reader: str
    tried: int
    reached_by_seeds: int
    reached: int
    failed: str


def row_of(name: str, reader: Reader, seconds: int, kept: Path) -> Row:
    """Look for a while; an input that fails goes into the folder `kept`."""
    with tempfile.TemporaryDirectory() as folder:
        corpus, words = Path(folder) / "corpus", Path(folder) / "words"
        corpus.mkdir()
        for number, seed in enumerate(reader.seeds):
            (corpus / f"seed-{number}").write_bytes(seed)
        limits = [f"-max_total_time={seconds}", f"-max_len={LONGEST}", f"-artifact_prefix={kept}/{name}-"]
        if words.write_text(dictionary_of(reader.seeds), encoding="utf-8"):
            limits.append(f"-dict={words}")  # one without a word is taken for a mistake
        command = [sys.executable, "-m", "tests.bench.fuzz.one", name, str(corpus), *limits]
        done = subprocess.run(command, capture_output=True, text=True, errors="replace", check=False)
    return row_from(name, done.stderr + done.stdout, failed=done.returncode != 0)


def row_from(name: str, said: str, *, failed: bool) -> Row:
    """A row out of what libFuzzer says of its progress; a failure is told by the last line of its traceback.

    Raises RuntimeError where it never began.
    """
    status = _STATUS.findall(said)
    if not status:
        raise RuntimeError(f"{name}: nothing was tried: {said[-2000:]}")
    first = next((int(cov) for _, kind, cov in status if kind == "INITED"), 0)
    tried, _, reached = status[-1]
    fault = re.findall(r"^(?:\w+\.)*\w+(?:Error|Exception|Fault|Faults)\b.*$", said, re.MULTILINE)
    return Row(name, int(tried), first, int(reached), (fault or ["it ended"])[-1] if failed else "")


def dictionary_of(seeds: tuple[bytes, ...]) -> str:
    """The words of the sound files, as libFuzzer reads a dictionary."""
    words = {word for seed in seeds for word in re.findall(rb"[A-Za-z_]{3,24}", seed)}
    return "".join(f'"{word.decode()}"\n' for word in sorted(words))


def main() -> int:
    """Look at every reader that is asked for, and print the table."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench.fuzz", description="Look for what readers fail at.")
    known = ", ".join(READERS)
    parser.add_argument("readers", nargs="*", metavar="READER", help=f"of {known}; all where none is named")
    parser.add_argument("--seconds", type=int, default=60, help="for each reader")
    parser.add_argument("--keep", type=Path, default=Path(tempfile.gettempdir()), help="where inputs that fail go")
    asked = parser.parse_args()
    unknown = [name for name in asked.readers if name not in READERS]
    if unknown:
        parser.error(f"found {', '.join(unknown)}; accepted are {known}")
    rows = [row_of(name, READERS[name], asked.seconds, asked.keep) for name in asked.readers or READERS]
    table = Table("Reader", "Inputs tried", "Branches of the sound files", "Branches at the end", "Failed")
    for row in rows:
        table.add_row(row.reader, f"{row.tried}", f"{row.reached_by_seeds}", f"{row.reached}", row.failed or "nothing")
    Console().print(table)
    return int(any(row.failed for row in rows))


if __name__ == "__main__":
    sys.exit(main())
