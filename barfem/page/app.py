"""The page's answers over HTTP: what each path takes, and how a wrong bar is answered in the command line's words."""

from __future__ import annotations

import asyncio
import contextlib
import json
import threading
import traceback
from collections.abc import Awaitable, Callable, Mapping
from functools import cached_property
from importlib.resources import files
from shlex import quote
from typing import TYPE_CHECKING, Any

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.requests import ClientDisconnect, Request
from starlette.responses import Response
from starlette.routing import Route

from barfem.model.errors import BarfemError, InputError
from barfem.model.load_case import case_named
from barfem.model.nearest import did_you_mean
from barfem.model.toml_file import nests_too_deeply
from barfem.page.controls import field_at, fields_of
from barfem.page.guard import Guard
from barfem.page.session import Asked, Session
from barfem.page.worker import Asker, Superseded, Worker
from barfem.version import __version__

if TYPE_CHECKING:
    from barfem.page.work import Work

__all__ = ["Answers", "make_app"]

KINDS = {
    "html": "text/html", "css": "text/css", "js": "text/javascript", "svg": "image/svg+xml", "json": "application/json",
}  # fmt: skip
CHANGED = 'a JSON object such as {"changes": {"section.diameter": 24.0}}.'
KEYS = ("changes", "case", "name", "replace", "setting", "shape", "equal_rate", "page")
WATCH_S = 0.2
Endpoint = Callable[[Request], Awaitable[Response]]


def make_app(session: Session, *, token: str, port: int, answers: Answers | None = None) -> Guard:
    """The page of one session as an ASGI application; nothing is answered without the token but GET /health."""
    answers = answers or Answers(session)
    post = {
        "/check": answers.check, "/scene": answers.scene, "/advice": answers.advice, "/section": answers.section,
        "/band": answers.band, "/progress": answers.progress, "/bar": answers.bar, "/write": answers.write,
        "/file": answers.file,
    }  # fmt: skip
    routes = [
        Route("/", _page(token, answers)),
        Route("/health", _health),
        Route("/explain", answers.explain),
        Route("/static/{token}/{name}", _static),
        *(Route(path, _answered(answers, made), methods=["POST"]) for path, made in post.items()),
    ]
    return Guard(Starlette(routes=routes, exception_handlers={HTTPException: _refused}), token=token, port=port)


async def _refused(request: Request, error: Exception) -> Response:
    status = error.status_code if isinstance(error, HTTPException) else 500
    return _error(status, InputError(error.detail if isinstance(error, HTTPException) else str(error)))


async def _health(request: Request) -> Response:
    return _json({"barfem": __version__, "page": "ready"})


def _page(token: str, answers: Answers) -> Endpoint:
    text = _file("index.html").decode("utf-8").replace("{{files}}", f"static/{token}")

    async def page(request: Request) -> Response:
        await asyncio.to_thread(answers.reread)
        return Response(text, media_type="text/html")

    return page


async def _static(request: Request) -> Response:
    name = request.path_params["name"]
    known = {"viewer.js": ("barfem.show.report", "viewer.js")}
    if name in known:
        return Response(files(known[name][0]).joinpath(known[name][1]).read_bytes(), media_type=KINDS["js"])
    if name not in _names():
        return _error(404, InputError(f"there is no {name[:80]!a}."))
    return Response(_file(name), media_type=KINDS[name.rpartition(".")[2]])


def _names() -> list[str]:
    return [each.name for each in files("barfem.page").joinpath("static").iterdir() if each.is_file()]


def _file(name: str) -> bytes:
    return files("barfem.page").joinpath("static").joinpath(name).read_bytes()


def _json(data: Any, status: int = 200) -> Response:
    text = json.dumps(data, allow_nan=False, ensure_ascii=False, separators=(",", ":"))
    return Response(text, status_code=status, media_type="application/json")


def _error(status: int, error: BarfemError, **more: Any) -> Response:
    where = getattr(error, "where", None) or ""
    problem = getattr(error, "problem", None) or str(error)
    expected = getattr(error, "expected", None) or ""
    if not expected and " Right would be: " in problem:
        problem, _, expected = problem.partition(" Right would be: ")
    return _json({"error": {"where": where, "message": problem, "expected": expected, **more}}, status)


def _answered(answers: Answers, made: Callable[[Mapping[str, Any], Asker], Awaitable[Response]]) -> Endpoint:
    async def endpoint(request: Request) -> Response:
        body: Mapping[str, Any] = {}
        gone = threading.Event()
        watch = asyncio.create_task(_watch(request, gone))
        try:
            body = _body(await request.body())
            await asyncio.to_thread(answers.follow_steel)
            return await made(body, Asker(request.headers.get("x-page", "")[:64], gone))
        except (Superseded, ClientDisconnect):  # of the latter nobody waits for the words
            return _error(409, InputError("a newer change came.", where="changes"), superseded=True)
        except asyncio.CancelledError:  # Ctrl-C while it was computed
            return _error(
                503, InputError("the page has been stopped.", where="the page", expected="to start it again.")
            )
        except BarfemError as error:
            return _error(422, error, key=answers.key_of(error, body), **await answers.way_out(body))
        except OSError as error:  # a disk that is full, a folder that is gone
            return _error(422, InputError(f"the disk does not answer as it should: {error.strerror or error}."))
        except HTTPException:
            raise
        except Exception as error:  # whatever reaches this line is a bug, and the user is told so
            traceback.print_exc()
            return _error(500, BarfemError(f"sorry, this is a bug in barfem ({type(error).__name__}: {error})."))
        finally:
            watch.cancel()

    return endpoint


async def _watch(request: Request, gone: threading.Event) -> None:
    """Note when nobody waits for the answer any more: a page that was closed, a question that was given up."""
    while not gone.is_set():
        await asyncio.sleep(WATCH_S)
        if await request.is_disconnected():
            gone.set()


def _body(raw: bytes) -> dict[str, Any]:
    try:
        found = json.loads(raw)
        json.dumps(found, ensure_ascii=False).encode("utf-8")  # half a character is no text
    except (ValueError, RecursionError) as error:
        raise InputError("the request is no JSON.", where="the request", expected=CHANGED) from error
    if nests_too_deeply(found):
        raise InputError("the request nests lists or tables too deeply.", where="the request", expected=CHANGED)
    if not isinstance(found, dict):
        raise InputError("the request is no JSON object.", where="the request", expected=CHANGED)
    for key in found:
        if key not in KEYS:
            what = f"unknown key {key[:40]!a}.{did_you_mean(key, KEYS)}"
            raise InputError(what, where="the request", expected=f"of {', '.join(KEYS)}; {CHANGED}")
    return found


def _asked(body: Mapping[str, Any]) -> Asked:
    changes, case = body.get("changes", {}), body.get("case")
    if not isinstance(changes, dict):
        raise InputError("changes is no JSON object.", where="changes", expected=CHANGED)
    if case is not None and not isinstance(case, str):
        raise InputError(f"{case!r:.40} is no load case.", where="case", expected="roll, one-wheel or parallel.")
    if case is not None:
        case_named(case)
    return Asked(changes, case)


def _beside(key: str, other: str) -> bool:
    """Whether two keys are the same of two entries of one list: ends.holes.1.from_tip and ends.holes.2.from_tip."""
    parts, others = key.split("."), other.split(".")
    return (
        len(parts) == len(others)
        and sum(a != b for a, b in zip(parts[:-1], others[:-1], strict=True)) == 1
        and parts[-1] == others[-1]
    )


class Answers:
    """What each POST is answered with."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.worker = Worker()

    @cached_property
    def work(self) -> Work:
        """Imported by the worker while the browser still opens: the page itself needs none of it."""
        from barfem.page.work import Work

        return Work(self.session)

    def reread(self) -> None:
        """Who loads the page again works on the bar file as it is now: another program may have written it."""
        self._go_on_with(self.session.reread())

    def follow_steel(self) -> None:
        """A steel table of the user's own counts as it is on disk by now: `barfem check` goes by that one."""
        self._go_on_with(self.session.with_steel())

    def _go_on_with(self, session: Session) -> None:
        if session is not self.session:
            self.session = session
            self.__dict__.pop("work", None)

    def warm(self) -> None:
        """Have the bar as it stands checked before the page asks for it."""

        def first() -> None:
            with contextlib.suppress(BarfemError):
                self.work.check(Asked({}))

        self.worker.later(first)

    def key_of(self, error: BarfemError, body: Mapping[str, Any]) -> str | None:
        """The control that an error speaks of: where the message says, else the one changed last.

        Of a list's entries that do not go together (two holes that run into each other) it is the one changed last.
        """
        changes = body.get("changes")
        if not isinstance(changes, dict) or not changes:
            return None
        where = getattr(error, "where", None) or ""
        if where in changes:
            return where
        if (own := next((key for key in changes if where and key.startswith(f"{where}.")), None)) is not None:
            return str(own)
        if where in KEYS:  # of the request, not of the bar
            return None
        try:
            # As the reader found it: the tables of a bar that is none may still say which control was meant.
            fields = fields_of(self.session, self.session.bar.tables or {})
            found = field_at(fields, where)
        except (BarfemError, KeyError, TypeError, ValueError):
            found = None
        last = str(next(reversed(changes)))
        return last if found is None or _beside(found, last) else found

    async def way_out(self, body: Mapping[str, Any]) -> dict[str, Any]:
        """For a page without an answer yet: the controls of the bar file, so that what is wrong can be mended there."""
        if body.get("page") is not True:
            return {}
        from barfem.page.view import controls_view

        return {"controls": await asyncio.to_thread(controls_view, self.session, self.session.bar)}

    async def check(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked = _asked(body)
        shown = body.get("page") is True
        return _json(
            await self.worker.run(
                lambda going: (self.work.shown if shown else self.work.check)(asked), page=page, newest=True
            )
        )

    async def scene(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked, setting = _asked(body), body.get("setting", -1)
        at = setting if isinstance(setting, int) and not isinstance(setting, bool) else -1
        return _json(await self.worker.run(lambda going: self.work.scene(asked, setting=at), page=page, beside="view"))

    async def advice(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked = _asked(body)
        return _json(await self.worker.run(lambda going: self.work.advice(asked, going), page=page, beside="long"))

    async def section(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked, shape = _asked(body), str(body.get("shape", ""))
        equal = body.get("equal_rate") is True
        return _json(
            await self.worker.run(
                lambda going: self.work.other_section(asked, shape=shape, equal_rate=equal), page=page, beside="long"
            )
        )

    async def band(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked = _asked(body)
        return _json(await self.worker.run(lambda going: self.work.band(asked, going), page=page, beside="long"))

    async def progress(self, body: Mapping[str, Any], page: Asker) -> Response:
        return _json(self.work.band_progress())

    async def bar(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked = _asked(body)
        text = await self.worker.must(lambda: self.session.text_of(asked.changes))
        return Response(text, media_type="text/plain; charset=utf-8")

    async def file(self, body: Mapping[str, Any], page: Asker) -> Response:
        from barfem.page.view import file_view

        return _json(await asyncio.to_thread(file_view, self.session, _asked(body).changes))

    async def write(self, body: Mapping[str, Any], page: Asker) -> Response:
        asked, name, replace = _asked(body), body.get("name"), body.get("replace") is True
        if not isinstance(name, str):
            raise InputError("the name is missing.", where="name", expected="a plain file name that ends in .toml.")
        try:
            path = await self.worker.must(lambda: self.session.write(asked.changes, name, replace=replace))
        except InputError as error:
            if not replace and error.where == "name" and self.session.taken(name):
                there = InputError(error.problem, where="name", expected='another file name, or "replace": true.')
                return _error(409, there, exists=True)
            raise
        shown = quote(self.session.shown(path.name))
        return _json({"written": path.name, "path": str(path), "next": f"barfem check {shown}"})

    async def explain(self, request: Request) -> Response:
        from barfem.show.explain import explain

        try:
            found = explain(request.query_params.get("key", "")[:200])
        except BarfemError as error:
            return _error(422, error)
        last = {"meaning": -1, "column": 1, "JSON": 1}  # what it is first, and the many names that it has last
        lines = sorted(found.lines(), key=lambda line: last.get(line[0], 0))
        return _json({"title": found.title, "lines": [list(line) for line in lines]})
