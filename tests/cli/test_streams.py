"""Standard streams that are closed or full: one line that says so, exit 2, never a bug and never a half answer."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest

RUN = f"exec {sys.executable} -m barfem"
ROOT = Path(__file__).parents[2]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no /dev/full on this system")
@pytest.mark.parametrize(
    ("command", "says"),
    [
        (f"{RUN} explain > /dev/full", "No space left on device"),
        (f"{RUN} --help > /dev/full", "No space left on device"),
        (f"{RUN} explain >&-", "standard output is closed"),
        (f"{RUN} new x/front.toml <&-", "x/front.toml"),
        (f"{RUN} check {'x' * 5000}.toml", "File name too long"),
        (f"{RUN} life --amplitude 9 --tensile 600 --yield 400 --json /dev/full", "No space left on device"),
    ],
)
def test_what_cannot_be_written_or_read_is_answered(command: str, says: str, tmp_path: Path) -> None:
    done = subprocess.run(["/bin/sh", "-c", command], cwd=ROOT, capture_output=True, text=True, timeout=120)
    assert done.returncode == 2, done.stderr
    assert done.stderr.count("\n") == 1 and done.stderr.startswith("barfem: error: ") and says in done.stderr
