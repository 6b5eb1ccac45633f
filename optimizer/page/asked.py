"""From a request to a handler and back: fields in, a page, a way on or one message out.

Handlers are plain functions that may take their time; they run on a thread each. One that writes
holds the clutch it writes to, so that of two devices one comes after the other.
"""

from __future__ import annotations

import sys
import traceback
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import quote

from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response
from starlette.routing import Route

from optimizer.errors import EvenstackError, InputError
from optimizer.page.folder import ClutchFolder, known_file, plans
from optimizer.page.shown import filled
from optimizer.page.works import named

if TYPE_CHECKING:
    from starlette.requests import Request

    from optimizer.page.house import House

#: header of what the script of the page asks for, and answers that ask back
SCRIPT, ASKING = "x-page", (409, 422)
#: fields of a form, and letters of one of them
MOST_FIELDS, LONGEST_FIELD = 300, 4_000


@dataclass(frozen=True)
class Page:
    """A template to fill."""

    template: str
    context: Mapping[str, Any]
    status: int = 200


@dataclass(frozen=True)
class Go:
    """Another page to go on to."""

    url: str


@dataclass(frozen=True)
class Data:
    """A value for the script of the page."""

    value: Mapping[str, Any]


@dataclass(frozen=True)
class Svg:
    """A picture."""

    text: str


Answer = Page | Go | Data | Svg
Handler = Callable[["PageRequest"], Answer]


@dataclass(frozen=True)
class PageRequest:
    """One request: where it goes, what was typed, and a file that came with it."""

    house: House
    path: Mapping[str, str]
    query: Mapping[str, str]
    fields: Mapping[str, str] = field(default_factory=dict)
    upload: tuple[str, bytes] | None = None

    def text(self, name: str, longest: int = LONGEST_FIELD) -> str:
        """Return what was typed into a field, without spaces around it; nothing if nothing."""
        typed = self.fields.get(name, "").strip()
        if len(typed) > longest:
            raise InputError(f"Expected at most {longest} letters for {name}.")
        return "".join(c for c in typed if c.isprintable())

    def number(self, name: str) -> int:
        """Return a whole number that the page itself put into a field or an address."""
        said = self.path.get(name) or self.fields.get(name, "")
        if not (said.isascii() and said.isdigit() and len(said) < 7):
            raise InputError(f"Expected a whole number for {name}.")
        return int(said)

    @property
    def clutch(self) -> ClutchFolder:
        """The clutch that the address names."""
        return self.house.folder.clutch(self.path["clutch"])

    @property
    def set_url(self) -> str:
        """Where the pages of the plan and set begin that the address names."""
        return f"{self.clutch.url}/p/{quote(self.path['plan'])}/{self.number('set')}"


def route(path: str, do: Handler, writes: bool = False) -> Route:
    """Answer an address with a handler; one that `writes` is posted to."""

    async def endpoint(request: Request) -> Response:
        house: House = request.app.state.house
        clutch = request.path_params.get("clutch")
        try:
            fields, upload = await _form(request) if writes else ({}, None)
            asked = PageRequest(house, request.path_params, request.query_params, fields, upload)
            answer = await run_in_threadpool(_held, do, asked, house if writes else None)
            response = await run_in_threadpool(_response, answer)
        except EvenstackError as error:
            response = _response(problem_page(error, house, clutch))
        except OSError as error:
            said = InputError(f"A file cannot be read or written ({error.strerror}).")
            response = _response(problem_page(said, house, clutch))
        except Exception as error:
            if type(error).__name__ == "TooLarge":  # the guard answers it
                raise
            response = _response(_fault(error, house, clutch))
        if request.headers.get(SCRIPT) and response.status_code in ASKING:
            response.status_code = 200  # its browser calls anything else a failure
        return response

    return Route(path, endpoint, methods=["POST"] if writes else ["GET"])


def stopping(kind: str, page: str, at_once: bool = False) -> Handler:
    """Return what ends work of a kind, with the best so far or at once, and shows its page."""

    def stop(asked: PageRequest) -> Answer:
        works = asked.house.works
        end = works.end if at_once else works.stop
        end(named(asked.clutch.name, kind))
        return Go(f"{asked.clutch.url}/{page}")

    return stop


def _held(do: Handler, asked: PageRequest, house: House | None) -> Answer:
    if house is None:
        return do(asked)
    with house.holding(asked.path.get("clutch", "")):
        return do(asked)


async def _form(request: Request) -> tuple[dict[str, str], tuple[str, bytes] | None]:
    """Read the fields of a form and the file with it; what is no form is none."""
    from starlette.datastructures import UploadFile

    fields: dict[str, str] = {}
    upload = None
    try:
        async with request.form(max_files=1, max_fields=MOST_FIELDS) as form:
            for name, value in form.multi_items():
                if isinstance(value, UploadFile):
                    upload = (Path(value.filename or "").name, await value.read())
                else:
                    fields[name] = value
    except HTTPException as error:
        raise InputError("This form cannot be read; load the page again.") from error
    return fields, upload


def _response(answer: Answer) -> Response:
    if isinstance(answer, Go):
        return RedirectResponse(answer.url, 303)
    if isinstance(answer, Data):
        return JSONResponse(dict(answer.value))
    if isinstance(answer, Svg):
        return Response(answer.text, media_type="image/svg+xml")
    return HTMLResponse(filled(answer.template, dict(answer.context)), answer.status)


def problem_page(error: EvenstackError, house: House, clutch: object) -> Page:
    """Return the page that says what is wrong with what was given, and the remedy."""
    return Page("problem", problem(house, error.lines(), clutch), 422)


def problem(house: House, lines: Sequence[str], clutch: object = None) -> dict[str, Any]:
    """Return what the page of a problem shows, and which files of the clutch it speaks of."""
    context = frame(house, clutch)
    found = context["clutch"]
    taught = found is not None and any(known_file(found.job).name in line for line in lines)
    job = found is not None and any(found.job.name in line for line in lines)
    return {**context, "lines": lines, "taught": taught, "job": job}


def _fault(error: Exception, house: House, clutch: object) -> Page:
    """Say that the program is at fault, and where; the terminal has it in full."""
    traceback.print_exception(error, file=sys.stderr)
    at = traceback.extract_tb(error.__traceback__)[-1]
    what = f"{type(error).__name__} in {Path(at.filename).name} line {at.lineno}"
    said = f"This is a fault of the program, not of your files ({what}). Nothing you wrote is lost."
    return Page("problem", problem(house, [said], clutch), 500)


def frame(house: House, clutch: object = None) -> dict[str, Any]:
    """Return what every page has: the clutch, its state, and whether others may come in."""
    name = clutch.name if isinstance(clutch, ClutchFolder) else clutch
    found = house.folder.clutches().get(str(name)) if name else None
    return {
        "clutch": found,
        "state": house.state_of(found),
        "newest": next(reversed(plans(found)), None) if found else None,
        "phone": house.doors.lan is not None,
        "step": "",
    }
