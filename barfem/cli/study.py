"""What the commands that look at many bars share: their JSON."""

from __future__ import annotations

import json
import sys
from collections.abc import Iterable
from pathlib import Path
from typing import Any

__all__ = ["json_target", "write_json"]


def json_target(option: str | None, *, inputs: Iterable[Path]) -> Path | None:
    """Where --json goes, refused before any work if it cannot go there; None for nowhere or standard output."""
    if option is None or option == "-":
        return None
    from barfem.show.output import check_output_path

    return check_output_path(option, option="--json", inputs=inputs)


def write_json(option: str | None, target: Path | None, data: dict[str, Any]) -> None:
    """Write `data` where `json_target` said."""
    if option is None:
        return
    text = json.dumps(data, indent=2, allow_nan=False, ensure_ascii=False) + "\n"
    if target is None:
        sys.stdout.write(text)
        return
    from barfem.show.output import write_whole

    write_whole(target, text, option="--json")
