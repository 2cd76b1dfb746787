"""The types of the browser code, made from what the server says of itself: `python -m tests.wire`.

They are made before types are checked, and never committed: what is made each time cannot be out of date.
"""

import json
import subprocess
import tempfile
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
from tests.access.fakes import Entrance

WEB = Path(__file__).parents[1] / "web"
MADE = WEB / "js/wire.d.ts"
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


def main() -> None:
    """Write `web/js/wire.d.ts`. CalledProcessError where the tool fails."""
    with tempfile.TemporaryDirectory(prefix="festoon-wire-") as folder:
        source = Path(folder, "openapi.json")
        source.write_text(json.dumps(document(Path(folder))), encoding="utf-8")
        subprocess.run(["node", str(TOOL), str(source), "--output", str(MADE), *FLAGS], check=True, capture_output=True)


if __name__ == "__main__":
    main()
