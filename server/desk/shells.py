"""The service worker of the pages for a tablet: the script that keeps their files, for when there is no connection."""

import json
from hashlib import sha256
from pathlib import Path

from fastapi import APIRouter
from fastapi.responses import Response

from server.desk.pages import MEDIA_TYPES, PAGES

WORKER = "/booth-worker.js"
"""At the top, because a service worker serves only pages below its own address."""

KEPT_PAGES = ("/booth", "/threading")
"""Each has a worker of its own, of the same script."""

FOLDERS = ("css", "js", "vendor")


def shell_routes(web: Path) -> APIRouter:
    """The route of the worker; `web` holds the files."""
    router = APIRouter(include_in_schema=False)

    @router.api_route(WORKER, methods=["GET", "HEAD"])
    def worker() -> Response:
        """The worker with the files as they are now: a browser takes another text for a new version."""
        return Response(worker_text(web), media_type=MEDIA_TYPES[".js"])

    return router


def worker_text(web: Path) -> str:
    """The worker after the list of its files, which is its first line."""
    script = (web / "js/worker/booth.js").read_text(encoding="utf-8")
    return f"self.SHELL = {json.dumps({'files': shell_files(web)})};\n{script}"


def shell_files(web: Path) -> dict[str, str]:
    """A digest of each file that these pages may ask for, by the path it is asked for with."""
    files = {page: web / PAGES[page] for page in KEPT_PAGES}
    for folder in FOLDERS:
        for path in sorted((web / folder).rglob("*")):
            if path.suffix in MEDIA_TYPES and path.suffix != ".txt":
                files[f"/static/{path.relative_to(web).as_posix()}"] = path
    return {path: sha256(file.read_bytes()).hexdigest()[:16] for path, file in files.items()}
