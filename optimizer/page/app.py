"""The application: its addresses, the guard before them, and news for open pages."""

from __future__ import annotations

import asyncio
import json
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from typing import TYPE_CHECKING

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.responses import HTMLResponse, Response, StreamingResponse
from starlette.routing import Route

from optimizer.page import (
    bringing,
    building,
    gauging,
    hooking,
    matching,
    measuring,
    ordering,
    planning,
    setting_up,
    start,
)
from optimizer.page.asked import problem
from optimizer.page.guard import Guard
from optimizer.page.house import House
from optimizer.page.shown import STATIC, filled, static
from optimizer.page.works import names

if TYPE_CHECKING:
    from starlette.requests import Request

#: seconds between two looks at the files, and between two signs of life
LOOK_S, ALIVE_S = 0.4, 15.0


def application(house: House) -> Starlette:
    """Return the application that serves a folder."""

    @asynccontextmanager
    async def lifespan(_app: Starlette) -> AsyncIterator[None]:
        yield
        house.closing = True
        await run_in_threadpool(house.works.close)

    rooms = (start, setting_up, measuring, bringing, matching, building, gauging)
    app = Starlette(
        routes=[
            *(route for room in (*rooms, hooking, ordering, planning) for route in room.ROUTES),
            Route("/news/{clutch}", news),
            Route("/static/{name}", static_file),
        ],
        middleware=[Middleware(Guard, doors=house.doors)],
        exception_handlers={HTTPException: not_found},
        lifespan=lifespan,
    )
    app.state.house = house
    return app


async def static_file(request: Request) -> Response:
    """Answer with a script, style or picture of the package."""
    name = request.path_params["name"]
    if name not in STATIC:
        raise HTTPException(404)
    return Response(static(name), media_type=STATIC[name])


async def not_found(request: Request, error: Exception) -> Response:
    """Say that there is no such page."""
    status = error.status_code if isinstance(error, HTTPException) else 500
    what = "There is no such page." if status in (404, 405) else "This cannot be answered."
    context = problem(request.app.state.house, [what])
    return HTMLResponse(await run_in_threadpool(filled, "problem", context), status)


async def news(request: Request) -> Response:
    """Tell an open page when something that it shows has changed, and how work goes on."""
    house: House = request.app.state.house
    name = request.path_params["clutch"]
    clutch = (await run_in_threadpool(house.folder.clutches)).get(name)

    async def events() -> AsyncIterator[str]:
        before, quiet = "", 0.0
        while not house.closing and not await request.is_disconnected():
            state = await run_in_threadpool(house.state_of, clutch)
            runs = {key: house.works.of(key) for key in names(name)}
            work = {
                key.removeprefix(name): (run.stage, round(run.share, 3))
                for key, run in runs.items()
                if run and not run.ended
            }
            said = json.dumps({"state": state, "work": work})
            if said != before:
                yield f"data: {said}\n\n"
                before, quiet = said, 0.0
            elif quiet >= ALIVE_S:
                yield ": alive\n\n"
                quiet = 0.0
            quiet += LOOK_S
            await asyncio.sleep(LOOK_S)

    return StreamingResponse(events(), media_type="text/event-stream")
