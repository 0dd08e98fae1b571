"""The options `--plots DIR` and `--plots-format`, which several commands share."""

from __future__ import annotations

import argparse
from collections.abc import Iterable
from pathlib import Path

__all__ = ["add_plots", "plots_folder", "say_plots"]


def add_plots(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--plots", metavar="DIR", help="write pictures of life into this folder (made if missing)")
    parser.add_argument("--plots-format", choices=("png", "svg"), default="png", help="of --plots (default png)")


def plots_folder(args: argparse.Namespace, inputs: Iterable[str | Path] = ()) -> Path | None:
    """The folder of `--plots`, looked at before any work is done; None without the option.

    Raises
    ------
    InputError
        It could not be made or written to, or a picture would go onto an input.
    """
    if args.plots is None:
        return None
    from barfem.show.figures.plots import check_plots_folder

    return check_plots_folder(args.plots, kind=args.plots_format, inputs=inputs)


def say_plots(folder: Path | None) -> None:
    """One line that says where the pictures are."""
    if folder is not None:
        print(f"wrote pictures into {folder}")
