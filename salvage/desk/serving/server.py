"""The page's server: thin handlers between the page and the rooms. Nothing is reckoned here.

Every handler takes plain data, calls the function that the command calls too, and gives plain data. What takes more
than a moment is a job of one of two worker processes: `eye` looks at photographs, `hand` answers for a project.
"""

from __future__ import annotations

import json
import time
from collections.abc import AsyncIterator, Awaitable, Callable, Iterable
from contextlib import asynccontextmanager
from pathlib import Path
from typing import Any

import jinja2
from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import FileResponse, HTMLResponse, JSONResponse, Response
from starlette.routing import Mount, Route
from starlette.staticfiles import StaticFiles
from starlette.types import ASGIApp

from salvage.desk.desk import Desk
from salvage.desk.edit.journal import Stale
from salvage.desk.serving.guard import Guard, Keys
from salvage.desk.shelf import Shelf
from salvage.desk.tabs import Elsewhere
from salvage.desk.words import catalogue, languages
from salvage.desk.workers.process import Job
from salvage.errors import SalvageError, UsageError
from salvage.trade.kinds import KINDS
from salvage.trade.paper import TILED

HERE = Path(__file__).parents[1]
MOST_BYTES = 80_000_000  # of a photograph; the largest that telephones write are some 50 MB
_MOST_TALK = 4_000_000  # bytes of any other request
_LONGEST_WAIT = 20.0  # s that a request may wait for a job to come further

Data = dict[str, Any]
Endpoint = Callable[[Request], Awaitable[Response]]

# What plain data raises that isn't what was asked for: another type, nothing where something is needed, a number too large.
_NO_QUESTION = (ArithmeticError, AttributeError, LookupError, TypeError, ValueError)

# A report is a page of its own with its styles inside; it may run nothing and reach nothing.
_REPORT_POLICY = "default-src 'none'; style-src 'unsafe-inline'; img-src data:; frame-ancestors 'none'; sandbox allow-popups"


def make_app(shelf: Shelf, keys: Keys, hosts: Iterable[str], desk: Desk | None = None) -> ASGIApp:
    """The server's application for a folder. hosts: the names, with port, under which it may be asked."""
    held = desk or Desk(shelf)

    @asynccontextmanager
    async def life(_: Starlette) -> AsyncIterator[None]:
        held.start()
        try:
            yield
        finally:
            held.close()

    app = Starlette(
        routes=_routes(held, keys), lifespan=life, exception_handlers={HTTPException: _http_error}
    )
    return Guard(app, keys, hosts)


def _routes(desk: Desk, keys: Keys) -> list[Route | Mount]:
    return [
        Route("/", _page),
        Route("/words", _words),
        Mount("/static", StaticFiles(directory=HERE / "static")),
        Route("/take/{ticket}/{name}", _take(desk, keys)),
        Route("/api/enter", _enter(keys), methods=["POST"]),
        Route("/api/photo", _upload(desk), methods=["POST"]),
        Route("/api/picture", _picture(desk)),
        Route("/api/rail_picture", _rail_picture(desk)),
        Route("/api/job/{number:int}", _job(desk)),
        *(
            Route(f"/api/{name}", _plain(desk, work), methods=["POST"])
            for name, work in (
                ("folder", lambda told: desk.folder()),
                ("settings", desk.remember),
                ("sample", desk.take_sample),
                ("size", desk.size),
                ("check", desk.check),
                ("measure", desk.measure),
                ("garment", desk.garment),
                ("state", desk.state),
                ("take_over", desk.take_over),
                ("edit", desk.edit),
                ("undo", desk.undo),
                ("redo", desk.redo),
                ("tape", desk.tape),
                ("cloth", desk.cloth),
                ("project", desk.projects.open),
                ("project_shapes", desk.projects.shapes),
                ("draw", desk.projects.draw),
                ("part_kinds", desk.projects.part_kinds),
                ("save_project", desk.projects.save),
                ("help", desk.projects.help),
                ("keep_project", desk.projects.keep),
                ("answer", desk.answer),
                ("stop", desk.stop),
                ("drag", desk.drag),
                ("rail", desk.rail.cards),
                ("rail_hang", desk.rail.hang),
                ("rail_made", desk.rail.made),
                ("rail_others", desk.rail.others),
                ("rail_used", desk.rail.used),
                ("report", desk.report),
                ("templates", desk.templates),
                ("cut", desk.cut),
                ("files", lambda told: _with_tickets(desk.files(told), keys)),
                ("squares", lambda told: _with_tickets(desk.squares(told), keys)),
            )
        ),
    ]


# --- the page itself -------------------------------------------------------------------------------

_templates = jinja2.Environment(
    loader=jinja2.FileSystemLoader(HERE / "templates"), autoescape=True, undefined=jinja2.StrictUndefined
)


async def _page(request: Request) -> Response:
    words = catalogue(_language(request))
    page = _templates.get_template("page.html")
    return HTMLResponse(
        page.render(w=words, language=_language(request), papers=TILED, cloth_kinds=KINDS.values())
    )


async def _words(request: Request) -> Response:
    return JSONResponse({"language": _language(request), "words": catalogue(_language(request))})


def _language(request: Request) -> str:
    """The first of the browser's languages that there is a catalogue of."""
    asked = (
        part.split(";")[0].strip()[:2].lower()
        for part in request.headers.get("accept-language", "").split(",")
    )
    return next((each for each in asked if each in languages()), "en")


def _enter(keys: Keys) -> Endpoint:
    async def enter(request: Request) -> Response:
        told = await _told(request)
        given = keys.enter(str(told.get("key", "")))
        if given is None:
            return JSONResponse({"error": "refused.key"}, 401)
        return JSONResponse({"pass": given})

    return enter


def _take(desk: Desk, keys: Keys) -> Endpoint:
    async def take(request: Request) -> Response:
        name = keys.behind(request.path_params["ticket"])
        if name is None or name != request.path_params["name"]:
            raise HTTPException(404, "refused.ticket")
        path = desk.result(name)
        headers = {"content-security-policy": _REPORT_POLICY}
        show = path.suffix.lower() in (".html", ".pdf", ".jpg") and "save" not in request.query_params
        kind = "inline" if show else "attachment"
        return FileResponse(path, filename=name, content_disposition_type=kind, headers=headers)

    return take


def _with_tickets(told: Data, keys: Keys) -> Data:
    for each in told["files"]:
        each["ticket"] = keys.ticket(each["name"])
    return told


# --- plain questions and answers -------------------------------------------------------------------


def _plain(desk: Desk, work: Callable[[Data], Data]) -> Endpoint:
    async def answer(request: Request) -> Response:
        told = await _told(request)
        try:
            return JSONResponse(await run_in_threadpool(work, told))
        except Elsewhere as error:
            return JSONResponse({"error": str(error), "elsewhere": True}, 423)
        except SalvageError as error:
            return _refused(desk, error)
        except _NO_QUESTION as error:
            return JSONResponse(
                {"error": f"that could not be understood ({type(error).__name__}: {error})."}, 400
            )

    return answer


def _refused(desk: Desk, error: SalvageError) -> Response:
    stale = isinstance(error, Stale)
    status = 409 if stale else 400 if isinstance(error, UsageError) else 422
    return JSONResponse({"error": desk.shelf.plainly(str(error)), "stale": stale}, status)


async def _told(request: Request) -> Data:
    """The request's JSON object. Only JSON is read, so that no form of another site can be one."""
    if request.headers.get("content-type", "").split(";")[0].strip() != "application/json":
        raise HTTPException(415, "refused.json")
    try:
        told = json.loads(await _body(request, _MOST_TALK))
    except (ValueError, RecursionError):
        raise HTTPException(400, "refused.json") from None
    if not isinstance(told, dict):
        raise HTTPException(400, "refused.json")
    return told


async def _body(request: Request, most_bytes: int) -> bytes:
    if int(request.headers.get("content-length") or 0) > most_bytes:
        raise HTTPException(413, "refused.large")
    parts, size = [], 0
    async for part in request.stream():
        size += len(part)
        if size > most_bytes:
            raise HTTPException(413, "refused.large")
        parts.append(part)
    return b"".join(parts)


async def _http_error(_: Request, error: Exception) -> Response:
    assert isinstance(error, HTTPException)
    return JSONResponse({"error": error.detail}, error.status_code)


# --- photographs and jobs --------------------------------------------------------------------------


def _upload(desk: Desk) -> Endpoint:
    async def upload(request: Request) -> Response:
        data = await _body(request, MOST_BYTES)
        try:
            return JSONResponse(
                await run_in_threadpool(desk.take_photo, request.query_params.get("name", ""), data)
            )
        except SalvageError as error:
            return _refused(desk, error)

    return upload


def _picture(desk: Desk) -> Endpoint:
    async def picture(request: Request) -> Response:
        asked = request.query_params
        try:
            box = tuple(round(float(each)) for each in asked["box"].split(",")) if "box" in asked else None
            most = int(asked.get("most", "1600"))
            data = await run_in_threadpool(desk.picture, asked.get("photo", ""), most, box)
        except SalvageError as error:
            return _refused(desk, error)
        except _NO_QUESTION:
            raise HTTPException(400, "refused.json") from None
        return Response(data, media_type="image/jpeg", headers={"cache-control": "private, max-age=600"})

    return picture


def _rail_picture(desk: Desk) -> Endpoint:
    async def picture(request: Request) -> Response:
        data = await run_in_threadpool(desk.rail.picture, request.query_params.get("content", ""))
        if data is None:
            raise HTTPException(404, "refused.no_picture")
        return Response(data, media_type="image/jpeg", headers={"cache-control": "private, max-age=86400"})

    return picture


def _job(desk: Desk) -> Endpoint:
    async def job(request: Request) -> Response:
        """What there is to tell of a job; waits until that is more than was seen."""
        found = desk.job(request.path_params["number"])
        if found is None:
            raise HTTPException(404, "refused.job")
        try:
            seen = int(request.query_params.get("seen", "-1"))
        except ValueError:
            raise HTTPException(400, "refused.json") from None
        until = time.monotonic() + _LONGEST_WAIT
        await run_in_threadpool(_wait, desk, found, seen, until)
        told = found.told()
        return JSONResponse(told | {"error": desk.shelf.plainly(told["error"])})

    return job


def _wait(desk: Desk, job: Job, seen: int, until: float) -> None:
    desk.worker_of(job).wait(job, until - time.monotonic(), steps_seen=seen)
