"""The ways to the page and to what it sends; who may take them the gate has asked already."""

import json
import time
from collections.abc import Callable
from typing import Any

from anyio import to_thread
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import BaseRoute, Route

from dashboard.papers.round_sheet import ROWS
from dashboard.pit import files, sheets
from dashboard.pit.confirmed import take_in
from dashboard.pit.entries import entries_of
from dashboard.pit.pictures import take_in_picture
from dashboard.pit.rounds import round_of, today_here, vehicles
from dashboard.screen.served import path
from ingest.errors import StoreBusy, SystemProblem, UserError
from ingest.machine import in_plain_words
from ingest.store import Store

PIT = "pit"
STANDING = "milesleft.standing"
"""Under this name the gate puts who asks into the scope."""
KB = 2**10


def routes(base: str, *, most_kb: int, most_entries: int, picture_kb: int) -> list[BaseRoute]:
    """The routes under a base path.

    Parameters
    ----------
    most_kb, most_entries : size of one message, and how many entries it may hold.
    picture_kb : size of one photo.
    """
    root = f"{base}/{PIT}"

    async def took(request: Request) -> Response:
        body = await _body(request, most_kb * KB)
        if body is None:
            return _said(413, f"A message may have {most_kb} KB at most. Send fewer entries at once.")
        who = request.scope[STANDING].who.name
        return await _answer(
            lambda: {"entries": take_in(_store(), entries_of(body, most_entries), who, today_here())}
        )

    async def took_picture(request: Request) -> Response:
        content = await _body(request, picture_kb * KB)
        if content is None:
            return _said(400, f"A photo may have {picture_kb} KB at most.")
        who, about = request.scope[STANDING].who.name, dict(request.query_params)
        return await _answer(lambda: take_in_picture(_store(), content, about, who, today_here()))

    pages = [Route(f"{root}/{name}", _page(file), methods=["GET"]) for name, file in files.PAGES.items()]
    return [
        Route(root, _to_page, methods=["GET"]),
        *pages,
        Route(f"{root}/api/vehicles", _vehicles, methods=["GET"]),
        Route(f"{root}/api/round", _round, methods=["GET"]),
        Route(f"{root}/api/sheet", _sheet, methods=["GET"]),
        Route(f"{root}/api/lines", _lines, methods=["GET"]),
        Route(f"{root}/api/entries", took, methods=["POST"]),
        Route(f"{root}/api/pictures", took_picture, methods=["POST"]),
        Route(f"{root}/{{name}}", _file, methods=["GET"]),
        Route(f"{root}/{{rest:path}}", _nothing, methods=["GET", "POST"]),
    ]


async def _to_page(request: Request) -> Response:
    return RedirectResponse(f"{request.url.path}/")


def _page(file: str) -> Callable[[Request], Any]:
    async def page(request: Request) -> Response:  # noqa: ARG001
        return _whole(file)

    return page


async def _file(request: Request) -> Response:
    name = request.path_params["name"]
    known = name in files.contents() and name not in files.PAGES.values()
    return _whole(name) if known else _said(404, "There is nothing here.")


async def _nothing(request: Request) -> Response:  # noqa: ARG001
    return _said(404, "There is nothing here.")


def _whole(name: str) -> Response:
    # Asked for again each time: the worker keeps the files, by their version.
    return Response(
        files.contents()[name], media_type=files.media_type(name), headers={"cache-control": "no-cache"}
    )


async def _vehicles(request: Request) -> Response:
    who = request.scope[STANDING]
    return await _answer(lambda: {"vehicles": vehicles(_store()), **_until(who)})


async def _round(request: Request) -> Response:
    asked, who = request.query_params.get("vehicle", ""), request.scope[STANDING]
    return await _answer(lambda: {**round_of(_store(), asked, today_here()), **_until(who)})


def _until(standing: Any) -> dict[str, Any]:  # noqa: ANN401  # the gate's, which lies above this room
    """Until when the page may keep what it was given; 0: this machine's own, for ever. [s since 1970]"""
    return {"until": standing.until, "now": time.time(), "who": standing.who.name}


async def _sheet(request: Request) -> Response:
    """The round printed, as PDF: what is due, or all places."""
    told = request.query_params
    vehicle, paper, places = told.get("vehicle", ""), told.get("paper", "a4"), told.get("places", sheets.DUE)

    def made() -> Response:
        if paper not in ROWS or places not in sheets.TITLES:
            known = f"{' or '.join(ROWS)}, {' or '.join(sheets.TITLES)}"
            return _said(400, f"There is no such paper or choice of places. Expected: {known}.")
        store = _store()
        content = sheets.printed(store, round_of(store, vehicle, today_here()), places, paper)
        headers = {"cache-control": "no-store", "content-disposition": 'inline; filename="round.pdf"'}
        return Response(content, headers=headers, media_type="application/pdf")

    return await to_thread.run_sync(lambda: _in_words(made))


async def _lines(request: Request) -> Response:
    """The engine and the lines of a printed sheet, by its code."""
    code = request.query_params.get("code", "")
    return await _answer(lambda: sheets.sheet_of(_store(), code))


async def _body(request: Request, most: int) -> bytes | None:
    """What was sent; None as soon as it is more than that many bytes."""
    body = bytearray()
    async for part in request.stream():
        body += part
        if len(body) > most:
            return None
    return bytes(body)


async def _answer(work: Callable[[], dict[str, Any]]) -> Response:
    """What the work gives, as JSON; a problem in plain words."""
    return await to_thread.run_sync(lambda: _in_words(lambda: _json(200, work())))


def _in_words(work: Callable[[], Response]) -> Response:
    """What the work gives; where it cannot be done, why, without a name of this machine."""
    try:
        return work()
    except (UserError, OSError, MemoryError) as error:
        known = error if isinstance(error, UserError) else in_plain_words(error)
        if isinstance(known, SystemProblem):
            return _said(503, f"The server could not do it: {known.means}.")
        return _said(503 if isinstance(known, StoreBusy) else 400, str(known))


def _store() -> Store:
    return Store(path())


def _said(status: int, words: str) -> Response:
    return _json(status, {"problem": words})


def _json(status: int, told: dict[str, Any]) -> Response:
    # allow_nan: no browser reads NaN.
    text = json.dumps(told, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    return Response(text, status, {"cache-control": "no-store"}, "application/json")
