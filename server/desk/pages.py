"""The pages and files that browsers load."""

import os
from collections.abc import Awaitable, Callable, Mapping
from pathlib import Path

from fastapi import APIRouter, Request
from fastapi.responses import FileResponse
from starlette.exceptions import HTTPException
from starlette.responses import Response
from starlette.staticfiles import NotModifiedResponse, PathLike, StaticFiles
from starlette.types import Scope

PAGES = {
    "/": "index.html",
    "/wall": "wall.html",
    "/booth": "booth.html",
    "/lobby": "lobby.html",
    "/pair": "pair.html",
    "/pairings": "pairings.html",
    "/rollcall": "rollcall.html",
    "/library": "library.html",
    "/plan": "plan.html",
    "/threading": "threading.html",
    "/debrief": "debrief.html",
}
MEDIA_TYPES = {
    ".html": "text/html",
    ".css": "text/css",
    ".js": "text/javascript",
    ".mjs": "text/javascript",
    ".svg": "image/svg+xml",
    ".png": "image/png",
    ".ico": "image/x-icon",
    ".woff2": "font/woff2",
    ".webmanifest": "application/manifest+json",
    ".txt": "text/plain",
}
"""All that is served, by its ending: the computer's own table of types is not ours to trust."""


def web_folder() -> Path:
    """The folder of the pages: what the wheel carries, or `web/` beside the packages in a checkout."""
    installed = Path(__file__).parent / "static"
    return installed if installed.is_dir() else Path(__file__).parents[2] / "web"


class Files(StaticFiles):
    """The files of `web_folder` that have one of `MEDIA_TYPES`; anything else is not there (404)."""

    def file_response(
        self, full_path: PathLike, stat_result: os.stat_result, scope: Scope, status_code: int = 200
    ) -> Response:
        """The file, or 304 where the browser's copy still holds."""
        media_type = MEDIA_TYPES.get(Path(full_path).suffix)
        if media_type is None:
            raise HTTPException(404)
        response = FileResponse(full_path, status_code, stat_result=stat_result, media_type=media_type)
        fresh = self.is_not_modified(response.headers, Request(scope).headers)
        return NotModifiedResponse(response.headers) if fresh else response


def page_routes(files: Files, pages: Mapping[str, str] = PAGES) -> APIRouter:
    """A route for each of `pages`."""
    router = APIRouter(include_in_schema=False)
    for path, name in pages.items():
        router.add_api_route(path, _page(files, name), methods=["GET", "HEAD"])
    return router


def _page(files: Files, name: str) -> Callable[[Request], Awaitable[Response]]:
    async def page(request: Request) -> Response:
        return await files.get_response(name, request.scope)

    return page
