"""What `festoon plan` writes: the sheets of a show, as pages and as PDFs, and its stringline chart."""

import re
import zlib
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import TYPE_CHECKING

import typer

if TYPE_CHECKING:
    from server.sheets.page import Sheet
    from server.sheets.show import Show

CHART_ENDING = ".svg"


class PaperFault(Exception):
    """Sheets or a chart that cannot be written, in one sentence."""


def refuse_misuse(sheets: Path | None, chart: Path | None, *, pdf: bool) -> None:
    """Refuse options that cannot be followed, before anything is worked out. Raises typer.BadParameter."""
    if pdf and sheets is None:
        raise typer.BadParameter("it makes PDFs of the sheets: give --sheets DIR with it", param_hint="--pdf")
    if chart is not None and chart.suffix.lower() != CHART_ENDING:
        said = f"the chart is an SVG file: found {chart}; accepted: a name that ends in {CHART_ENDING}"
        raise typer.BadParameter(said, param_hint="--chart")


def write_paper(
    show: "Show", sheets: Path | None, chart: Path | None, *, pdf: bool, say: Callable[[str], None]
) -> None:
    """Write what was asked for, and say what was written; files of ours are replaced.

    A folder that is there is filled, one that is not is made. Raises PaperFault: where a file of the same name is not
    ours nothing is written. Where no PDF can be made the pages are written, then PrintingFault is raised.
    """
    from server.printing import PrintingFault
    from server.sheets.folder import sheets_of
    from server.sheets.stringline import stringline_svg

    content: dict[Path, str | bytes] = {}
    no_pdf: PrintingFault | None = None
    if sheets is not None:
        try:
            files = _files(show, sheets_of(show, pdf=pdf), pdf=pdf)
        except PrintingFault as fault:
            no_pdf = fault
            files = _files(show, sheets_of(show), pdf=False)
        content |= {sheets / name: page for name, page in files.items()}
    if chart is not None:
        content[chart] = stringline_svg(show)
    _make_room(sheets, content)
    for path, made in content.items():
        _write(path, made)
        say(str(path))
    if sheets is not None:
        _say_rest(sheets, content, say)
    if no_pdf is not None:
        raise no_pdf


def _files(show: "Show", sheets: "Iterable[Sheet]", *, pdf: bool) -> dict[str, str | bytes]:
    """Return every sheet by its file's name. Raises PrintingFault."""
    from server.printing import pdf_from_html
    from server.sheets.page import page_for_pdf, page_of

    files: dict[str, str | bytes] = {}
    for sheet in sheets:
        files[f"{sheet.name}.html"] = page_of(sheet, show)
        if pdf:
            files[f"{sheet.name}.pdf"] = pdf_from_html(page_for_pdf(sheet, show))
    return files


def _make_room(folder: Path | None, paths: Iterable[Path]) -> None:
    """Make the folder, and see that nothing which somebody else made would be replaced. Raises PaperFault."""
    about = folder
    homeless = [path for path in paths if path.parent != folder and not path.parent.is_dir()]
    if homeless:
        raise PaperFault(f"Nothing was written: {homeless[0].parent} is no folder, so {homeless[0]} has no place.")
    try:
        if folder is not None:
            if folder.exists() and not folder.is_dir():
                raise PaperFault(f"{folder} is a file: --sheets takes a folder, or the name of a new one.")
            folder.mkdir(parents=True, exist_ok=True)
        foreign = [about for about in paths if about.exists() and not is_ours(about)]
    except OSError as error:
        raise PaperFault(f"{about} cannot be written ({error.strerror}).") from None
    if foreign:
        names = ", ".join(map(str, foreign))
        raise PaperFault(f"Nothing was written: Festoon did not make {names}, and replaces only what it made.")


def is_ours(path: Path) -> bool:
    """Whether a file says of itself that it is a sheet of ours; a PDF says so in a packed part. Raises OSError."""
    from server.sheets.page import MARKS

    if path.is_dir():
        return False
    content = path.read_bytes()
    return any(mark.encode() in part for mark in MARKS for part in (content, *_unpacked(content)))


def _unpacked(content: bytes) -> Iterable[bytes]:
    """What a PDF packs, part by part; nothing of a file that is none."""
    packed = re.findall(rb"stream\r?\n(.*?)\r?\nendstream", content, re.DOTALL) if content.startswith(b"%PDF") else []
    for part in packed:
        try:
            yield zlib.decompress(part)
        except zlib.error:
            continue


def _write(path: Path, made: str | bytes) -> None:
    try:
        path.write_bytes(made.encode() if isinstance(made, str) else made)
    except OSError as error:
        raise PaperFault(f"{path} cannot be written ({error.strerror}).") from None


def _say_rest(folder: Path, written: Iterable[Path], say: Callable[[str], None]) -> None:
    """Say how the sheets are printed, and which in the folder are of another plan and would be taken for these."""
    say(f"Open {folder / 'index.html'} in a browser: it links the sheets, and each prints on A4 and on letter.")
    endings = ("*.html", "*.pdf")
    others = sorted(path for ending in endings for path in folder.glob(ending) if path not in set(written))
    old = [path.name for path in others if is_ours(path)]
    if old:
        say(f"Made before, not now, and left as they were: {', '.join(old)}. Their times may be of another plan.")
