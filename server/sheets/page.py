"""One sheet as a page that carries all it needs: opened from a disk, printed on A4 or letter, made into a PDF."""

from html import escape
from typing import Final, NamedTuple

from server.sheets.markup import Html, element, joined
from server.sheets.show import Show
from server.sheets.times import clock_s, day_of, day_text, short_day
from server.timeline.plan import Plan

_MAKER: Final = "Festoon sheets"
MADE_BY: Final = f'<meta name="generator" content="{_MAKER}">'
DRAWN_BY: Final = f"<desc>{_MAKER}</desc>"
MARKS: Final = (MADE_BY, DRAWN_BY, f"/Creator ({_MAKER})")
"""What every file of ours says of itself, as a page, a drawing or a PDF, so that no other is overwritten."""

# A page that has A4's width and letter's height is printed on either as it is, without being made smaller.
_BOTH_PAPERS_MM: Final = (210.0, 279.0)

STYLE: Final = """
* { box-sizing: border-box; }
html { -webkit-print-color-adjust: exact; print-color-adjust: exact; }
body {
  font: 12pt/1.3 "Helvetica Neue", Helvetica, Arial, "Liberation Sans", sans-serif; color: #000; background: #fff;
  max-width: 194mm; margin: 8mm auto; padding: 0 4mm; overflow-wrap: anywhere;
}
body.wide { max-width: 260mm; }
h1 { font-size: 27pt; line-height: 1.1; margin: 0; }
h2 { font-size: 15pt; margin: 6mm 0 1mm; break-after: avoid; }
p { margin: 0.8mm 0; }
a { color: #000; }
header { border-bottom: 2.5pt solid #000; padding-bottom: 1.5mm; margin-bottom: 2.5mm; }
header p { font-size: 11pt; }
header p:first-of-type { font-size: 14pt; }
ul { margin: 1mm 0; padding-left: 5mm; }
li { break-inside: avoid; margin: 0.6mm 0; }
ul.boxes { list-style: none; padding: 0; }
ul.boxes li { padding: 0.8mm 0 0.8mm 9mm; text-indent: -9mm; }
ul.boxes .box { margin-right: 3mm; vertical-align: middle; }
table { width: 100%; border-collapse: collapse; table-layout: fixed; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
th, td { text-align: left; vertical-align: top; padding: 1mm 2mm 1mm 0; border-bottom: 0.6pt solid #777;
  font-weight: normal; }
thead th { font-size: 10pt; vertical-align: bottom; padding-bottom: 0.5mm; border-bottom: 1.5pt solid #000; }
.n { text-align: right; font-variant-numeric: tabular-nums; }
.box { display: inline-block; width: 5.5mm; height: 5.5mm; border: 1.3pt solid #000; text-indent: 0; }
.tick { text-align: center; padding-right: 0; }
.small, .small li { font-size: 10pt; }
.day { font-size: 10pt; font-weight: normal; display: block; }
.stop { border: 2.5pt solid #000; padding: 1mm 3mm; margin: 0 0 2.5mm; break-inside: avoid; }
.stop p:first-child { font-weight: bold; }
.big { display: flex; flex-wrap: wrap; gap: 2mm 6mm; margin: 2mm 0; }
.big b { display: block; font-size: 18pt; line-height: 1.1; font-variant-numeric: tabular-nums; }
td b, li b { font-variant-numeric: tabular-nums; }
td .caution { font-weight: bold; font-size: 10.5pt; margin-top: 1mm; }
table.booth tbody .clock { font-size: 21pt; line-height: 1.1; font-weight: bold; font-variant-numeric: tabular-nums;
  white-space: nowrap; }
tbody .house { font-size: 21pt; line-height: 1.1; font-weight: bold; }
.house .long { font-size: 13pt; line-height: 1.15; display: inline-block; }
table.booth tbody .what, table.booth tbody .by { font-size: 14.5pt; line-height: 1.15; padding-top: 1.6mm; }
table.booth tbody .by { font-variant-numeric: tabular-nums; white-space: nowrap; }
table.booth tr.do td { font-weight: bold; }
tr.gap td { text-align: center; font-size: 11pt; padding: 1mm 0; background: #e6e6e6; break-after: avoid; }
tr.date td { font-size: 15pt; font-weight: bold; padding-top: 4mm; border-bottom: 1.5pt solid #000;
  break-after: avoid; }
table.lobby tbody td, table.lobby tbody th { font-size: 20pt; line-height: 1.1; font-variant-numeric: tabular-nums;
  padding: 1.2mm 2mm 1.2mm 0; }
table.lobby.many tbody td { font-size: 15pt; padding-top: 2mm; }
table.lobby.dense tbody td, table.lobby.dense tbody th { font-size: 13pt; padding: 0.8mm 2mm 0.8mm 0; }
table.lobby.dense .day { font-size: 8pt; }
.at { white-space: nowrap; }
.cautions { border: 1pt solid #000; padding: 0 3mm 1mm; margin-top: 4mm; break-inside: avoid; }
.cautions h2 { margin-top: 1.5mm; font-size: 12pt; }
.cautions li { font-size: 10pt; }
.person + .person { break-before: page; }
.keep { break-inside: avoid; }
table.steps td { font-size: 11.5pt; }
.finding { break-inside: avoid; margin: 0 0 2.5mm; }
body.wide h1 { font-size: 18pt; }
body.wide header p { font-size: 11pt; }
figure { margin: 2mm 0; }
figure svg { width: 100%; height: auto; }
@media screen and (max-width: 600px) {
  body { padding: 0 2mm; font-size: 10pt; }
  h1 { font-size: 20pt; }
  table.booth tbody .clock, table.booth tbody .house, table.lobby tbody .house { font-size: 12pt; }
  table.booth tbody .what { font-size: 10pt; padding-top: 1mm; }
  table.booth tbody .by { font-size: 7.5pt; padding: 1.2mm 0; }
  table.lobby tbody td, table.lobby.many tbody td, table.lobby.dense tbody td { font-size: 11pt; }
  .small, .small li, table.steps td, td .caution, thead th { font-size: 7.5pt; }
}
@media print {
  body, body.wide { max-width: none; margin: 0; padding: 0; }
  a { text-decoration: none; }
  figure svg { max-height: 134mm; }
}
"""
_FOOT: Final = "font: 9pt Helvetica, Arial, sans-serif; vertical-align: top; padding-top: 2mm;"
_FOOT_LENGTH: Final = 80  # chosen: as many letters as fit beside the number of the page


class Sheet(NamedTuple):
    """One sheet: the stem of its file's name, its title, what it is for, its body, and whether it lies on its side."""

    name: str
    title: str
    about: str
    body: Html
    wide: bool = False


def page_of(sheet: Sheet, show: Show) -> str:
    """Return a sheet as one HTML page without script, for whatever paper is in the printer."""
    return _page(sheet, show.plan, "size: landscape;" if sheet.wide else "")


def page_for_pdf(sheet: Sheet, show: Show) -> str:
    """Return the same for a PDF, which has a paper of its own: one that prints on A4 and on letter."""
    width_mm, height_mm = reversed(_BOTH_PAPERS_MM) if sheet.wide else _BOTH_PAPERS_MM
    return _page(sheet, show.plan, f"size: {width_mm:g}mm {height_mm:g}mm;")


def _page(sheet: Sheet, plan: Plan, paper: str) -> str:
    title = f"{sheet.title}: {plan.title}"
    lies = ' class="wide"' if sheet.wide else ""
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        "<meta http-equiv=\"content-security-policy\" content=\"default-src 'none'; style-src 'unsafe-inline'\">"
        f"{MADE_BY}"
        '<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape(title)}</title><style>{STYLE}{_paper_style(plan, sheet.title, paper)}</style></head>"
        f"<body{lies}><main>{sheet.body}</main></body></html>\n"
    )


def heading(show: Show, title: str, *more: str, warned: bool = True) -> Html:
    """Return the head of a sheet: what it is, of which show, when; `warned` where it tells of the plan's faults."""
    plan = show.plan
    site = f"{plan.site}. " if plan.site else ""
    when = f"{day_text(day_of(plan, 0.0))}. Motors at {clock_s(plan, 0)}. Clock of {plan.timezone}."
    lines = [element("p", element("b", plan.title)), element("p", f"{site}{when}")]
    lines += [element("p", line) for line in more]
    return joined([element("header", element("h1", title), *lines), _faults(show) if warned else ""])


def _paper_style(plan: Plan, title: str, size: str) -> str:
    """Margins, and at the foot of every page whose it is and its number, so that a loose one is known."""
    foot = f"{title}: {plan.title}"
    shown = foot if len(foot) <= _FOOT_LENGTH else f"{foot[: _FOOT_LENGTH - 1]}…"
    whose = _css_text(f"{shown}, {short_day(day_of(plan, 0.0))}")
    return (
        f"@page {{ {size} margin: 10mm 11mm 14mm; @bottom-left {{ content: {whose}; {_FOOT} width: 80%; }}"
        f' @bottom-right {{ content: counter(page) " / " counter(pages); {_FOOT} }} }}'
    )


def _css_text(text: str) -> str:
    """Return a text as a string of a style sheet, in which nothing ends the string or the sheet."""
    return '"' + "".join(one if one.isalnum() else f"\\{ord(one):x} " for one in text) + '"'


def _faults(show: Show) -> Html:
    """A word of warning where there is a fault: nobody laces film by a plan that cannot work."""
    count = sum(finding.level == "fault" for finding in (*show.judgement.findings, *show.between))
    if not count:
        return Html()
    found = "a fault. Mend it" if count == 1 else f"{count} faults. Mend them"
    said = f"This plan has {found} before film is laced: the overview says how."
    return element("div", element("p", said), style="stop")
