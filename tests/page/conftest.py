"""The page's server in the test's own process: requests as a browser makes them, and as others would."""

from __future__ import annotations

import asyncio
import shutil
import subprocess
from collections.abc import Callable, Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import httpx
import pytest

from barfem.page.app import Answers, make_app
from barfem.page.session import Session, open_file
from tests.page.in_chromium import DESK, OpenPage, Served

ROOT = Path(__file__).parents[2]
TOKEN, PORT = "token-of-the-test", 8765


def in_a_loop(work: Callable[[], Coroutine[Any, Any, Any]]) -> Any:
    """The answer of a coroutine, in a thread: the browser of other tests leaves its own loop in this one."""
    with ThreadPoolExecutor(max_workers=1) as pool:
        return pool.submit(lambda: asyncio.run(work())).result()


class Client:
    """Requests to an application without a network."""

    def __init__(self, app: Any) -> None:
        self.app = app

    def request(self, method: str, path: str, **what: Any) -> httpx.Response:
        async def ask() -> httpx.Response:
            transport = httpx.ASGITransport(app=self.app)
            async with httpx.AsyncClient(transport=transport, base_url=f"http://127.0.0.1:{PORT}") as client:
                return await client.request(method, path, **what)

        return in_a_loop(ask)

    def get(self, path: str, **what: Any) -> httpx.Response:
        return self.request("GET", path, **what)

    def post(self, path: str, **what: Any) -> httpx.Response:
        return self.request("POST", path, **what)


class Page:
    """A session and a client that has its token."""

    def __init__(self, session: Session) -> None:
        self.session = session
        self.answers = Answers(session)
        self.client = Client(make_app(session, token=TOKEN, port=PORT, answers=self.answers))

    def post(self, path: str, body: Any = None, **headers: str) -> Any:
        """The answer to a request with the token; header names with _ for -."""
        given = {"x-token": TOKEN, **{name.replace("_", "-"): value for name, value in headers.items()}}
        return self.client.post(path, json={} if body is None else body, headers=given)


@pytest.fixture
def tube(tmp_path: Path) -> Iterator[Page]:
    """The page of a copy of the rear tube: four holes, of which two fail."""
    path = tmp_path / "tube.toml"
    shutil.copy(ROOT / "geometries" / "pickup-rear-tube.toml", path)
    page = Page(open_file(path))
    yield page
    page.answers.worker.close()


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Served]:
    """The rear tube: four holes, of which two fail."""
    folder = tmp_path_factory.mktemp("page")
    shutil.copy(ROOT / "geometries" / "pickup-rear-tube.toml", folder / "tube.toml")
    made = Served(folder, "tube.toml")
    yield made
    made.stop()


@pytest.fixture(scope="session")
def axe(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The rules of axe-core, from the npm registry; nothing of it is kept here."""
    if shutil.which("npm") is None:
        pytest.skip("npm is not installed: axe-core cannot be had")
    folder = tmp_path_factory.mktemp("axe")
    command = ["npm", "install", "--silent", "--no-audit", "--no-fund", "--prefix", str(folder), "axe-core@4"]
    try:
        subprocess.run(command, check=True, capture_output=True, timeout=60)
    except (subprocess.SubprocessError, OSError) as error:
        pytest.skip(f"axe-core cannot be had from the npm registry: {error}")
    return (folder / "node_modules" / "axe-core" / "axe.min.js").read_text(encoding="utf-8")


@pytest.fixture
def opened(browser: Any, served: Served) -> Iterator[Callable[..., OpenPage]]:
    made: list[OpenPage] = []

    def open_page(url: str | None = None, **options: Any) -> OpenPage:
        made.append(OpenPage(browser, url or served.url, **(options or DESK)))
        return made[-1]

    yield open_page
    for each in made:
        each.context.close()
        # What a refused value answers with is told at its field, and by the browser's own console.
        assert [text for text in each.messages if "422" not in text and "409" not in text] == []
        assert [url for url in each.asked if not url.startswith("http://127.0.0.1:")] == []
