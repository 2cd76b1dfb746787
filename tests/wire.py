"""What the browser code has from the server's own tables and models: `python -m tests.wire` makes the types,
`python -m tests.wire --kinds` the kinds.

`web/js/wire.d.ts` has the types of all messages. It is made before types are checked, and never committed: what is made
each time cannot be out of date. `web/js/words/kinds.js` has the words and rules of the kinds there are. Desks load it,
also without a connection, so it is committed, and a test holds it against the tables.
"""

import json
import subprocess
import sys
import tempfile
from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

from server.desk.app import create_api
from server.desk.pages import web_folder
from server.desk.plans import PlanDesk
from server.desk.records import Past
from server.plans.site_store import SiteStore
from server.plans.store import PlanStore
from server.runlog import RunLog
from server.timeline.alarm_kinds import ALARM_KINDS
from server.timeline.event_kinds import EVENT_KINDS
from server.timeline.people import HOLD_ASKED, HOLD_ASKED_MIN, TROUBLE_WORDS
from tests.access.fakes import Entrance

WEB = Path(__file__).parents[1] / "web"
TYPES = WEB / "js/wire.d.ts"
KINDS = WEB / "js/words/kinds.js"
TOOL = WEB / "node_modules/openapi-typescript/bin/cli.js"
FLAGS = (
    "--root-types",
    "--root-types-no-schema-prefix",
    "--root-types-keep-casing",
    # A key with a default may be left out, also where that is no null.
    "--default-non-nullable=false",
)


def document(folder: Path) -> dict[str, Any]:
    """The OpenAPI document of a server with a log and plans in `folder`; the websocket's messages are in it."""
    entrance = Entrance()
    plans = PlanDesk(PlanStore(folder / "plans"), "", SiteStore(folder / "sites"))
    with closing(RunLog.open(folder)) as log:
        past = Past(log, entrance.time.now)
        return create_api({}, web_folder(), entrance.doorkeeper, lambda: None, past, plans=plans).openapi()


_HEAD = """// @ts-check
// Made by `python -m tests.wire --kinds` of server/timeline: event_kinds.py, alarm_kinds.py and people.py.

/**
 * @typedef {import("../wire.js").ObservedEvent["kind"]} EventKind
 * @typedef {object} EventRow
 * @property {string} words what was seen, without the place
 * @property {"station" | "link" | "source" | "booth" | "chain" | "none"} place
 * @property {string[]} keys what it can say beside its place
 * @property {boolean} of_film whether it is about film and machines
 * @property {"add" | "take_back" | "nothing"} debrief what a correction can do
 */
"""


def kinds_module() -> str:
    """The text of `kinds.js`: the kinds of event, of alarm, and of what can be wrong in a house."""
    events = {
        kind: {
            "words": row.words,
            "place": row.place,
            "keys": sorted(row.asks | row.may),
            "of_film": row.of_film,
            "debrief": row.debrief,
        }
        for kind, row in EVENT_KINDS.items()
    }
    names = {kind: row.name for kind, row in ALARM_KINDS.items()}
    return _HEAD + "".join(
        (
            _table("The kinds of event.", "Record<EventKind, EventRow>", "EVENT_KINDS", events),
            _table("What an alarm of each kind is called.", "Record<string, string>", "ALARM_NAMES", names),
            _table(
                "What can be wrong in a house.",
                'Record<import("../wire.js").HouseReport["what"], string>',
                "TROUBLES",
                TROUBLE_WORDS,
            ),
            "\n/** How the lobby asks to hold the start, and by how many minutes. */\n",
            f"export const HOLD_ASKED = {json.dumps(HOLD_ASKED)};\nexport const HOLD_ASKED_MIN = {HOLD_ASKED_MIN};\n",
        )
    )


def _table(told: str, type_: str, name: str, rows: Mapping[Any, object]) -> str:
    lines = "".join(f"  {kind}: {_written(row)},\n" for kind, row in rows.items())
    return f"\n/** {told} @type {{{type_}}} */\nexport const {name} = {{\n{lines}}};\n"


def _written(value: object) -> str:
    """A value as the formatter of the browser code leaves it."""
    if isinstance(value, dict):
        return f"{{ {', '.join(f'{key}: {_written(each)}' for key, each in value.items())} }}"
    return json.dumps(value, ensure_ascii=False)


def main() -> None:
    """Write the types, or with `--kinds` the kinds. CalledProcessError where the tool fails."""
    if sys.argv[1:] == ["--kinds"]:
        KINDS.write_text(kinds_module(), encoding="utf-8")
        return
    with tempfile.TemporaryDirectory(prefix="festoon-wire-") as folder:
        source = Path(folder, "openapi.json")
        source.write_text(json.dumps(document(Path(folder))), encoding="utf-8")
        subprocess.run(
            ["node", str(TOOL), str(source), "--output", str(TYPES), *FLAGS], check=True, capture_output=True
        )


if __name__ == "__main__":
    main()
