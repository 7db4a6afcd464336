"""The desk's addresses: the page, what it asks for, and what it sends."""

import asyncio
import json
import math
from collections.abc import AsyncIterator, Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import ClientDisconnect, Request
from starlette.responses import HTMLResponse, JSONResponse, Response, StreamingResponse
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles

from nest.desk.day import cut_in_part, day_told, way_told
from nest.desk.guard import BODY_SECONDS
from nest.desk.pressed import outcomes_csv
from nest.desk.pricing import moved_from
from nest.desk.session import GONE, Desk, Stale, Told, hide_told, matching, summary
from nest.desk.versions import beside, listed
from nest.edits import EditProblem, State
from nest.edits.commands import SearchCommand, command_of
from nest.edits.plies import begun_with_plies
from nest.edits.reach import allowed_headings
from nest.errors import VampYieldError
from nest.limits import MOST_PLAN_VALUES
from nest.pieces.piece import Part
from nest.plainfile import BadJson, parsed_json
from nest.plan import Begun, Plan
from nest.report.desk import desk_page, desk_style, hide_picture

STATIC = Path(__file__).parent / "static"

STALE = "The plan was changed at another window; look at it, and do it again."
MOST_HEADING_DEG = 1e6
MOST_WORDS = 200
"""Characters that are looked for."""
FOUND = "found"
"""In the place of a version's number: what the search in hand has found so far."""
MOST_WAITING = 200
"""What a window that does not listen misses."""


@dataclass(frozen=True, slots=True)
class Writers:
    """What writes files.

    whole : a plan with all of them, and lists of how far its cutting has come; says where.
    hide : one hide of a plan as a packed folder (ZIP), for the table that a text describes, or the plan's own.
    """

    whole: Callable[[Plan, Begun], dict]
    hide: Callable[[Plan, str, str], bytes]


def application(desk: Desk, writers: Writers) -> Starlette:
    """The application of one desk."""
    return Starlette(
        routes=[*_looked_at(desk), *_done(desk, writers), Mount("/static", StaticFiles(directory=STATIC))],
        exception_handlers={
            Stale: lambda request, error: _said(STALE, 409),
            VampYieldError: lambda request, error: _said(str(error), 422),
            ClientDisconnect: lambda request, error: Response(status_code=400),
        },
    )


def _looked_at(desk: Desk) -> list[Route]:
    """What changes nothing: the page, the plan, its hides, prices and versions, and events as they come."""

    async def page(request: Request) -> Response:
        return HTMLResponse(await run_in_threadpool(desk_page, desk.state.plan))

    async def style(request: Request) -> Response:
        return Response(desk_style(), media_type="text/css")

    async def plan(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(summary, desk))

    async def hide(request: Request) -> Response:
        def told() -> dict:
            hide_id = request.path_params["hide"]
            told = hide_told(desk, hide_id)
            return told | {"picture": hide_picture(desk.state.plan, hide_id)}

        return JSONResponse(await run_in_threadpool(told))

    async def find(request: Request) -> Response:
        words = request.query_params.get("words", "")[:MOST_WORDS]
        return JSONResponse({"found": await run_in_threadpool(matching, desk.state, words)})

    async def places(request: Request) -> Response:
        hide_id, number = request.path_params["hide"], request.path_params["number"]
        try:
            heading = float(request.query_params.get("heading", ""))
        except ValueError:
            heading = math.nan
        if not abs(heading) <= MOST_HEADING_DEG:
            return _said("a heading is an angle in degrees.", 400)
        rings = await run_in_threadpool(desk.positions, hide_id, number, heading)
        return JSONResponse({"rings": rings})

    async def headings(request: Request) -> Response:
        hide_id, number = request.path_params["hide"], request.path_params["number"]
        return JSONResponse({"headings": await run_in_threadpool(allowed_headings, desk.state, hide_id, number)})

    async def movable(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(lambda: desk.pricing().made or {}))

    async def way(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(way_told, desk.state, request.path_params["hide"]))

    async def versions(request: Request) -> Response:
        return JSONResponse(listed(desk.history))

    async def compared(request: Request) -> Response:
        one, other = (_version(desk, request.path_params[name]) for name in ("one", "other"))
        return JSONResponse(await run_in_threadpool(beside, one.plan, other.plan))

    async def picture(request: Request) -> Response:
        number, hide_id = request.path_params["number"], request.path_params["hide"]
        # A search may have ended since its window heard of what it had found: then there is nothing to show.
        state = desk.candidate if number == FOUND else _version(desk, number)
        if state is None:
            return JSONResponse({"picture": ""})
        state.hide(hide_id)
        return JSONResponse({"picture": await run_in_threadpool(hide_picture, state.plan, hide_id)})

    async def day(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(day_told, desk.state, desk.first))

    async def outcomes(request: Request) -> Response:
        return Response(await run_in_threadpool(outcomes_csv, desk.state), media_type="text/csv")

    async def events(request: Request) -> Response:
        return StreamingResponse(_events(desk), media_type="text/event-stream")

    number = "{hide:str}/{number:int}"
    return [
        Route("/", page), Route("/style.css", style), Route("/plan", plan), Route("/hide/{hide:str}", hide),
        Route("/find", find), Route(f"/places/{number}", places), Route(f"/headings/{number}", headings),
        Route("/way/{hide:str}", way), Route("/day", day), Route("/prices", movable), Route("/events", events),
        Route("/outcomes", outcomes), Route("/versions", versions), Route("/compared/{one:int}/{other:int}", compared),
        Route("/picture/{number}/{hide:str}", picture),
    ]


def _done(desk: Desk, writers: Writers) -> list[Route]:
    """What is asked with data: changes, searches, prices, files."""

    async def step(request: Request) -> Response:
        base, asked = _asked(await _body(request), "step")
        if isinstance(asked, SearchCommand):
            await run_in_threadpool(desk.search, asked, base)
            return JSONResponse({"revision": desk.revision, "searching": True})
        return JSONResponse({"revision": await run_in_threadpool(desk.do, asked, base)})

    async def price(request: Request) -> Response:
        data = await _body(request)
        if not isinstance(data, dict):
            raise EditProblem("what was moved cannot be read; load the page again.")
        moved, curve = moved_from(data.get("moved"), "moved"), _curve(data.get("curve"))
        return JSONResponse(await run_in_threadpool(lambda: desk.pricing().ask(moved, curve)))

    async def stop(request: Request) -> Response:
        await run_in_threadpool(desk.stop_search)
        return JSONResponse({})

    async def files(request: Request) -> Response:
        return JSONResponse(await run_in_threadpool(_written, desk, writers))

    async def hide_files(request: Request) -> Response:
        hide_id, data = request.path_params["hide"], await _body(request)
        table = data.get("table", "") if isinstance(data, dict) else None
        if not isinstance(table, str):
            raise EditProblem("a table is described in a text; choose its file again.")
        desk.state.check_open(hide_id)
        packed = await run_in_threadpool(writers.hide, desk.state.plan, hide_id, table)
        return Response(packed, media_type="application/zip")

    return [
        Route(path, do, methods=["POST"]) for path, do in (
            ("/step", step), ("/price", price), ("/stop", stop), ("/files", files),
            ("/hide-files/{hide:str}", hide_files),
        )
    ]


def _curve(asked: Any) -> tuple[str, Part] | None:
    """The style and part whose curve is asked for; None for no curve."""
    if asked is None:
        return None
    style, part = asked if isinstance(asked, list) and len(asked) == 2 else ("", "")
    if part not in set(Part):
        raise EditProblem("a curve is of a style and its toe, side or back; load the page again.")
    return str(style), Part(part)


async def _body(request: Request) -> Any:
    try:
        raw = await asyncio.wait_for(request.body(), BODY_SECONDS)
        return parsed_json(raw.decode("utf-8"), MOST_PLAN_VALUES)
    except (TimeoutError, UnicodeDecodeError, BadJson) as error:
        raise EditProblem(f"what was sent cannot be read ({error or 'too slow'}); do it again.") from error


def _asked(data: Any, name: str):
    """The revision and the step in a body."""
    if not isinstance(data, dict) or type(data.get("revision")) is not int:
        raise EditProblem("a change says for which revision of the plan it is made; load the page again.")
    return data["revision"], command_of(data.get(name), name)


def _written(desk: Desk, writers: Writers) -> dict:
    """Write the plan as it is, and say which hides its lists of the day leave out."""
    state = desk.state
    part = ", ".join(cut_in_part(state))
    more = f" Cut in part, and so not in the list of what is cut: {part}." if part else ""
    return writers.whole(state.plan, begun_with_plies(state)) | {"more": more}


def _version(desk: Desk, number: str | int) -> State:
    """The state of this number."""
    if not str(number).isdecimal():
        raise EditProblem("a version has a number; see the versions.")
    return desk.history.gone_to("", int(number)).state


def _said(sentence: str, status: int) -> JSONResponse:
    return JSONResponse({"said": sentence}, status_code=status)


async def _events(desk: Desk) -> AsyncIterator[str]:
    """Server-sent events (HTML Living Standard, section 9.2): changes of the plan and how a search goes on."""
    loop, queue = asyncio.get_running_loop(), asyncio.Queue[Told](MOST_WAITING)

    def put(told: Told) -> None:
        if not queue.full():
            queue.put_nowait(told)

    def heard(told: Told) -> None:
        loop.call_soon_threadsafe(put, told)

    desk.listeners.append(heard)
    try:
        now = json.dumps({"revision": desk.revision})
        yield f"event: changed\ndata: {now}\n\n"
        if desk.verdict() is not None:  # it may have been told before anybody listened
            yield f"event: judged\ndata: {now}\n\n"
        while True:
            try:
                told = await asyncio.wait_for(queue.get(), 15.0)
            except TimeoutError:
                yield ": still here\n\n"
            else:
                if told.kind == GONE:
                    return
                yield f"event: {told.kind}\ndata: {json.dumps(told.data)}\n\n"
    finally:
        desk.listeners.remove(heard)
