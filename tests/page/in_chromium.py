"""`barfem page` as people open it: a process of its own, and a page in a real Chromium."""

from __future__ import annotations

import json
import signal
import subprocess
import sys
from pathlib import Path
from typing import Any

GEOMETRIES = Path(__file__).parents[2] / "geometries"
DESK = {"viewport": {"width": 1400, "height": 900}}
PHONE = {"viewport": {"width": 390, "height": 844}, "has_touch": True, "is_mobile": True}


class Served:
    """`barfem page` of a bar, as a process of its own in a folder of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.folder = folder
        self.process = subprocess.Popen(
            [sys.executable, "-m", "barfem", "page", *words, "--no-browser"],
            cwd=folder, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        )  # fmt: skip
        self.url = self.process.stdout.readline().rstrip("\n")  # type: ignore[union-attr]

    def stop(self) -> tuple[int, str, str]:
        self.process.send_signal(signal.SIGINT)
        out, err = self.process.communicate(timeout=20)
        return self.process.returncode, out, err


class OpenPage:
    """An open page with everything it said and asked for."""

    def __init__(self, browser: Any, url: str, **options: Any) -> None:
        self.context = browser.new_context(**options)
        self.page = self.context.new_page()
        self.messages: list[str] = []
        self.asked: list[str] = []
        self.page.on("console", lambda message: self.messages.append(message.text))
        self.page.on("pageerror", lambda error: self.messages.append(str(error)))
        self.page.on("dialog", lambda dialog: (self.messages.append(dialog.message), dialog.dismiss()))
        self.page.on("request", lambda request: self.asked.append(request.url))
        self.page.goto(url)
        self.page.wait_for_selector("[data-result]")

    def settled(self, **changes: Any) -> None:
        """Wait for the answer to exactly these changes (keys with __ for a dot)."""
        wanted = json.dumps({key.replace("__", "."): value for key, value in changes.items()}, separators=(",", ":"))
        self.page.wait_for_function(
            "w => document.getElementById('answer').dataset.changes === w"
            " && document.getElementById('answer').getAttribute('aria-busy') === 'false'",
            arg=wanted,
        )

    def waits(self, condition: str) -> None:
        """Wait until a condition on `changes`, those of the answer that is shown, holds."""
        shown = "JSON.parse(document.getElementById('answer').dataset.changes || '{}')"
        self.page.wait_for_function(f"() => {{ const changes = {shown}; return {condition}; }}")

    def key(self, key: str) -> Any:
        return self.page.locator(f'[data-key="{key}"]')

    def cell(self, key: str, hole: str) -> str:
        return self.page.locator(f'[data-result="{key}"][data-hole="{hole}"]').first.inner_text()
