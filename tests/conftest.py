"""A browser for tests of pages; the option that prints the validation table, and the table itself.

The browser is a Chromium of this machine, driven by Playwright, which downloads nothing. Without one its tests are
skipped and say so; BARFEM_REQUIRE_BROWSER=1 makes that a failure.

`python -m pytest tests/validation --validation-table` prints every comparison with an outside source, those marked long
too: case, source, ours, theirs, difference, what is allowed and why. The comparisons come from the `compare` fixture of
tests/validation; they travel in each test's report, so that the table is whole under pytest-xdist too.
"""

from __future__ import annotations

import os
import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

# Before NumPy loads: processes that each ask for all processors wait for each other, tens of times longer than the
# small matrices here take (as the commands, barfem.cli.main).
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

# Bends outside the shipped grid are kept apart from the user's own, and found again by every worker and run.
os.environ.setdefault("BARFEM_CACHE", str(Path(tempfile.gettempdir()) / "barfem-test-cache"))


ONE_BY_ONE = ("tests/notebooks/",)
"""Where tests share nothing: each goes to whichever process is free."""

TOGETHER = ("tests/page/", "tests/report/", "tests/drawing/")
"""Where files share what takes long to make: a browser, a served page, a report, sheets."""

LONGEST = (
    "tests/page/",
    "tests/notebooks/",
    "tests/report/",
    "tests/docs/test_readme.py",
    "tests/check/test_one_hole_cannot_follow.py",
    "tests/check/test_solid_",
    "tests/validation/",
    "tests/study/",
    "tests/solid/",
)
"""What takes longest begins first, so that no process works alone at the end."""


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """With -n, a file's tests go to one process, and some folders': what they share is made once."""
    from xdist.scheduler import LoadFileScheduling

    class ByFile(LoadFileScheduling):
        def _split_scope(self, nodeid: str) -> str:
            if nodeid.startswith(ONE_BY_ONE):
                return nodeid
            return next((folder for folder in TOGETHER if nodeid.startswith(folder)), str(super()._split_scope(nodeid)))

    config.option.loadscopereorder = False  # files with the most tests first: they are rarely the longest
    return ByFile(config, log) if config.getvalue("dist") == "load" else None


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    ranks = {item: next((i for i, place in enumerate(LONGEST) if item.nodeid.startswith(place)), 99) for item in items}
    items.sort(key=ranks.__getitem__)


COLUMNS = ("case", "source", "ours", "theirs", "difference", "allowed", "why")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--validation-table",
        action="store_true",
        help="print every comparison with an outside source: ours, theirs, difference, allowed and why",
    )


def pytest_configure(config: pytest.Config) -> None:
    if config.getoption("--validation-table") and config.option.markexpr == "not long":
        config.option.markexpr = ""  # every comparison is every one


def comparisons(reporter: Any) -> list[dict[str, str]]:
    """The recorded comparisons of all test reports that the terminal reporter holds, in the order they ran."""
    found: list[dict[str, str]] = []
    for outcome in ("passed", "failed"):
        for report in reporter.stats.get(outcome, []):
            if getattr(report, "when", "") == "call":
                found += [dict(value) for name, value in report.user_properties if name == "comparison"]
    return found


def table_lines(rows: list[dict[str, str]]) -> list[str]:
    """The rows as one block of text: a line of numbers a comparison, its source and reason indented below."""
    if not rows:
        return ["no comparison ran"]
    numbers = ("ours", "theirs", "difference", "allowed")
    case_width = min(max(len(row["case"]) for row in rows), 60)
    widths = {key: max(len(key), *(len(row[key]) for row in rows)) for key in numbers}
    head = "case".ljust(case_width) + "".join("  " + key.rjust(widths[key]) for key in numbers)
    lines = [head, "-" * len(head)]
    for row in rows:
        cells = "".join("  " + row[key].rjust(widths[key]) for key in numbers)
        mark = "" if row["agrees"] == "yes" else "   <-- OUTSIDE"
        lines.append(row["case"].ljust(case_width) + cells + mark)
        lines.append(f"    source: {row['source']}")
        lines.append(f"    allowed because: {row['why']}")
    outside = sum(row["agrees"] != "yes" for row in rows)
    lines.append(f"{len(rows)} comparisons, {outside} outside what is allowed")
    return lines


def pytest_terminal_summary(terminalreporter: Any, exitstatus: int, config: pytest.Config) -> None:
    if not config.getoption("--validation-table"):
        return
    terminalreporter.section("validation table")
    for line in table_lines(comparisons(terminalreporter)):
        terminalreporter.write_line(line)


@pytest.fixture
def unpictured() -> Iterator[None]:
    """Reports without their figures, for tests of what else stands in them: drawing takes most of a report's time."""
    from tests.check.bar_files import without_pictures

    with without_pictures():
        yield


@pytest.fixture
def unprinted() -> Iterator[Any]:
    """Data packages without their drawing and sheets, which have their own tests; `.undo()` prints them again."""
    with pytest.MonkeyPatch.context() as patch:
        for printer in ("drawing.render.render", "bench_sheet.paper_pdf", "inspect_sheet.paper_pdf"):
            patch.setattr(f"barfem.show.{printer}", lambda *what, **how: b"%PDF-1.4")
        yield patch


@pytest.fixture
def unadvised() -> Iterator[None]:
    """`barfem check` without the search for what would help, which has its own tests."""
    from tests.check.bar_files import without_advice

    with without_advice():
        yield


BROWSER_ARGUMENTS = [
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
]


def no_browser(reason: str) -> None:
    if os.environ.get("BARFEM_REQUIRE_BROWSER") == "1":
        pytest.fail(f"BARFEM_REQUIRE_BROWSER is set, but {reason}")
    pytest.skip(reason)


@pytest.fixture(scope="session")
def browser_path() -> str:
    from barfem.model.errors import InputError
    from barfem.show.report.paper import find_browser

    try:
        return find_browser()
    except InputError as error:
        no_browser(f"no browser to open a page in: {error}")
        raise


@pytest.fixture(scope="session")
def browser(browser_path: str) -> Iterator[Any]:
    try:
        from playwright.sync_api import sync_playwright
    except ImportError:
        no_browser("playwright is not installed")
        raise
    with sync_playwright() as driver:
        opened = driver.chromium.launch(executable_path=browser_path, args=BROWSER_ARGUMENTS)
        yield opened
        opened.close()
