"""A page made into a PDF, where the extra that does it is installed."""

import importlib
import logging
import subprocess
import sys

NOT_INSTALLED = (
    "A PDF needs an extra that is not installed: pip install 'festoon[pdf]' (it uses the system's Pango),"
    " or print the HTML page from a browser."
)
LONGEST_S = 300.0
"""Chosen: the report of a three-hour show takes 17 s of a processor."""


class PrintingFault(Exception):
    """A PDF cannot be made here, in one sentence."""


def pdf_from_html(html: str) -> bytes:
    """Print a page that asks for nothing from elsewhere. Raises PrintingFault where the extra is missing."""
    try:
        weasyprint = importlib.import_module("weasyprint")
    except (ImportError, OSError) as error:  # OSError: it is there, and the system's libraries are not
        raise PrintingFault(NOT_INSTALLED) from error
    logging.getLogger("fontTools").setLevel(logging.ERROR)
    pdf: bytes = weasyprint.HTML(string=html, url_fetcher=_nothing).write_pdf()
    return pdf


def pdf_made_elsewhere(html: str) -> bytes:
    """The same in a process of its own, so that a server goes on with its shows. Raises PrintingFault."""
    command = [sys.executable, "-m", "server.printing"]
    try:
        done = subprocess.run(command, input=html.encode(), capture_output=True, timeout=LONGEST_S, check=False)
    except subprocess.TimeoutExpired:
        raise PrintingFault("The PDF took too long to make: print the HTML page from a browser.") from None
    if done.returncode == 0:
        return done.stdout
    said = done.stderr.decode(errors="replace").strip().splitlines()
    raise PrintingFault(said[-1] if said else "The PDF could not be made: print the HTML page from a browser.")


def _nothing(url: str, *_: object, **__: object) -> None:
    raise PrintingFault(f"The report asks for {url}: it is to carry all it needs.")


def main() -> None:
    """Read a page from standard input and write it as PDF to standard output."""
    try:
        sys.stdout.buffer.write(pdf_from_html(sys.stdin.buffer.read().decode()))
    except PrintingFault as fault:
        sys.exit(str(fault))


if __name__ == "__main__":
    main()
