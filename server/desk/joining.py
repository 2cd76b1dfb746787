"""Routes of several modules in one application."""

from fastapi import APIRouter, FastAPI


def add_routes(api: FastAPI, router: APIRouter) -> None:
    """Have `api` answer the routes of `router`, which were made with all that holds for them.

    FastAPI's `include_router` makes each of them a second time, with what is given there: nothing is given here.
    """
    api.router.routes.extend(router.routes)
