"""The page on paper: printed to PDF by a browser of this machine, headless and cut off from the network.

The browser that draws the page on screen also prints it, so that both look alike; a library that lays out pages by
itself would be one more opinion on style sheets, and could not be told from a browser's by its mistakes.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath
from typing import Literal

from barfem.model.errors import InputError

__all__ = ["BROWSERS", "PAPERS", "find_browser", "one_page_to_pdf", "page_count", "page_to_pdf", "usual_places"]

Paper = Literal["A4", "Letter"]
PAPERS: tuple[Paper, ...] = ("A4", "Letter")

# Programs that print with --headless --print-to-pdf, as they are called on the usual systems.
BROWSERS = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge")
PATIENCE_S = 90.0

QUIET = (
    "--headless",
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-extensions",
    "--no-pdf-header-footer",
    # Whatever address anything asks for, there is none.
    "--host-resolver-rules=MAP * ~NOTFOUND",
)


# Where installers put such programs on systems that leave them off the path, and what to install where there is none.
_WINDOWS = (
    r"Chromium\Application\chrome.exe",
    r"Google\Chrome\Application\chrome.exe",
    r"Microsoft\Edge\Application\msedge.exe",
)
_WINDOWS_FOLDERS = ("programfiles", "programfiles(x86)", "localappdata")
_MAC = ("Chromium", "Google Chrome", "Microsoft Edge")
_REMEDIES = {
    "win32": "a Chromium browser installed in its usual folder (winget search chromium lists some)",
    "darwin": "Chromium in Applications (brew install --cask chromium)",
}
_REMEDY = "the package chromium (such as: sudo apt install chromium)"


def usual_places(system: str, environment: Mapping[str, str]) -> Iterator[PurePath]:
    """Where installers put browsers that print, on a `system` (as `sys.platform`) that leaves them off the path."""
    if system == "win32":
        known = {name.lower(): value for name, value in environment.items()}
        for folder in filter(None, map(known.get, _WINDOWS_FOLDERS)):
            yield from (PureWindowsPath(folder) / program for program in _WINDOWS)
    elif system == "darwin":
        for folder in ("/Applications", f"{environment.get('HOME', '')}/Applications"):
            yield from (PurePosixPath(folder) / f"{name}.app/Contents/MacOS/{name}" for name in _MAC)


def find_browser(*, system: str = sys.platform) -> str:
    """Path of the browser that prints: $BARFEM_BROWSER, else the first of `BROWSERS` on the path, else one in the
    usual folders of Windows and macOS.

    Raises
    ------
    InputError
        If there is none; says what to install, and what to do without.
    """
    asked = os.environ.get("BARFEM_BROWSER")
    for name in (asked,) if asked else (*BROWSERS, *map(str, usual_places(system, os.environ))):
        found = shutil.which(name)
        if found is not None:
            return found
    raise InputError(
        f"BARFEM_BROWSER names {asked}, which is no program here." if asked else "no browser was found to print with.",
        where="--pdf",
        expected=f"{_REMEDIES.get(system, _REMEDY)}, or the path of a Chromium browser in the environment variable "
        "BARFEM_BROWSER; or open the HTML file in any browser and print it to PDF.",
    )


SMALLEST = 0.45
"""Of their size to which letters are brought at most to fit one page: below it nobody reads them."""


def one_page_to_pdf(
    page: str,
    *,
    paper: Paper,
    browser: str,
    where: str = "--one-page",
    expected: str = "fewer, by --case; or the whole report.",
) -> bytes:
    """The page as PDF on a single sheet, as much smaller as it has to be.

    Raises
    ------
    InputError
        If the browser fails, or what is to be said does not fit one sheet at `SMALLEST` of its size.
    """
    size = 1.0
    while size >= SMALLEST:
        made = page_to_pdf(
            page.replace("</style>", f"body {{ zoom: {size:.2f}; }}\n</style>", 1), paper=paper, browser=browser
        )
        if page_count(made) == 1:
            return made
        size -= 0.11
    raise InputError(
        "so many hole settings do not fit one page.",
        where=where,
        expected=expected,
    )


def page_count(pdf: bytes) -> int:
    """Pages of a PDF whose page objects are not compressed, as browsers write it."""
    return len(re.findall(rb"/Type\s*/Page\b(?!s)", pdf))


def page_to_pdf(page: str, *, paper: Paper, browser: str) -> bytes:
    """The page as PDF on `paper`.

    Raises
    ------
    InputError
        If the browser fails; says what it said.
    """
    with tempfile.TemporaryDirectory(prefix="barfem-print-") as folder:
        source, target = Path(folder) / "report.html", Path(folder) / "report.pdf"
        sized = page.replace("</style>", f"@page {{ size: {paper}; }}\n</style>", 1)
        source.write_text(sized, encoding="utf-8")
        # As root, as in most containers, the browser refuses to run in its own sandbox; the page is ours.
        as_root = ["--no-sandbox"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
        command = [browser, *QUIET, *as_root, f"--user-data-dir={folder}/profile", f"--print-to-pdf={target}"]
        try:
            done = subprocess.run(
                [*command, source.as_uri()], capture_output=True, text=True, timeout=PATIENCE_S, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise InputError(
                f"{browser} did not print: {error}.", where="--pdf", expected="a browser that prints, or no --pdf."
            ) from error
        if not target.is_file():
            last = (done.stderr.strip().splitlines() or ["it said nothing"])[-1]
            raise InputError(
                f"{browser} did not print (status {done.returncode}): {last}.",
                where="--pdf",
                expected="a browser that prints, or no --pdf.",
            )
        return target.read_bytes()
