"""Reports, opened in the browser of tests/conftest.py."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from barfem.cli.main import main

ROOT = Path(__file__).parents[2]


class Visit:
    """A page with everything it said and asked for."""

    def __init__(self, browser: Any, address: str, **options: Any) -> None:
        self.messages: list[str] = []
        self.asked: list[str] = []
        self.context = browser.new_context(**options)
        self.page = self.context.new_page()
        self.page.on("console", lambda message: self.messages.append(message.text))
        self.page.on("pageerror", lambda error: self.messages.append(str(error)))
        self.page.on("dialog", lambda dialog: (self.messages.append(f"dialog {dialog.message}"), dialog.dismiss()))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(address)

    def outside(self) -> list[str]:
        """Requests for anything but the page itself and what is in it."""
        return [url for url in self.asked if not url.startswith(("file:", "data:", "blob:"))]


@pytest.fixture
def visit(browser: Any) -> Iterator[Callable[..., Visit]]:
    made: list[Visit] = []

    def open_page(path: Path, **options: Any) -> Visit:
        made.append(Visit(browser, path.as_uri(), **options))
        return made[-1]

    yield open_page
    for each in made:
        each.context.close()


@pytest.fixture(scope="session")
def report(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The report of a tube with four hole settings, of which two fail."""
    path = tmp_path_factory.mktemp("report") / "tube.html"
    assert main(["report", str(ROOT / "geometries" / "pickup-rear-tube.toml"), "--out", str(path)]) == 1
    return path
