"""`festoon` with a wall clock that is set from outside: by the seconds in the file named first.

python -m tests.bench.faults.launcher OFFSET_FILE serve …
"""

import sys
import time
from pathlib import Path


def main() -> None:
    """Move the wall clock, and nothing else, before anything has read it."""
    offset, true_ns = Path(sys.argv.pop(1)), time.time_ns
    time.time_ns = lambda: true_ns() + round(float(offset.read_text(encoding="ascii") or 0) * 1e9)
    from server.cli import main as festoon

    sys.argv[0] = "festoon"
    festoon()


if __name__ == "__main__":
    main()
