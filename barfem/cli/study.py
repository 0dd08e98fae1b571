"""What the commands that look at many bars share: their options, their JSON and their pictures."""

from __future__ import annotations

import argparse
import json
import sys
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import Any

from barfem.model.errors import InputError

__all__ = [
    "add_save",
    "add_workers",
    "json_target",
    "one_file_each",
    "plot_target",
    "save_target",
    "say_not_written",
    "whole_number",
    "write_json",
    "write_plot",
]

PICTURES = (".png", ".svg")


def add_workers(parser: argparse.ArgumentParser) -> None:
    """The options of every study that can run on more than one process."""
    parser.add_argument(
        "--workers", metavar="N", type=whole_number, help="processes on this machine (default: one a core, up to 8)"
    )
    parser.add_argument("--cluster", metavar="ADDRESS", help="a Dask cluster's scheduler, such as tcp://10.0.0.5:8786")


def add_save(parser: argparse.ArgumentParser) -> None:
    """The option of every study that goes on where it was stopped."""
    parser.add_argument(
        "--save", metavar="FILE", help="keep results as they are done; the same command goes on from it"
    )


def whole_number(text: str) -> int:
    """A count on the command line."""
    try:
        value = int(text.replace("_", ""))
    except ValueError:
        raise argparse.ArgumentTypeError(f"{text!r} is no whole number") from None
    if value < 0:
        raise argparse.ArgumentTypeError(f"{text!r} is below 0")
    return value


def save_target(option: str | None, *, inputs: Iterable[Path]) -> Path | None:
    """Where --save goes, refused before any work if it cannot go there; a file that is there is taken up."""
    if option is None:
        return None
    from barfem.show.output import check_output_path

    return check_output_path(option, option="--save", inputs=inputs)


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


def plot_target(option: str | None, *, inputs: Iterable[Path]) -> Path | None:
    """Where --plot goes, refused before any work if it cannot go there."""
    if option is None:
        return None
    from barfem.show.output import check_output_path

    if Path(option).suffix.lower() not in PICTURES:
        raise InputError(f"{option} is no picture.", where="--plot", expected="a name that ends in .png or .svg.")
    return check_output_path(option, option="--plot", inputs=inputs)


def write_plot(target: Path | None, picture: Callable[[], Any]) -> None:
    """Draw and write where `plot_target` said; nothing is drawn for nowhere."""
    if target is None:
        return
    from barfem.show.figures.render import png, svg
    from barfem.show.output import write_whole

    drawn = picture()
    write_whole(target, svg(drawn) if target.suffix.lower() == ".svg" else png(drawn), option="--plot")


def one_file_each(**outputs: Path | None) -> None:
    """Refuse two outputs that go to one file; each by its option's name, None for one that is not asked for."""
    there: dict[Path, str] = {}
    for option, path in outputs.items():
        if path is None:
            continue
        other = there.setdefault(path.resolve(), option)
        if other != option:
            raise InputError(
                f"--{other} and --{option} go to one file, {path}.",
                where=f"--{option}",
                expected="each output its own file.",
            )


def say_not_written(option: Path | None, written: str | None) -> None:
    """Say below an answer that is none that the bar file which was asked for is not there."""
    if option is not None and written is None:
        print(f"Not written: {option}, for want of an answer.")
