"""`barfem review BAR.toml`: what stands against having the bar made, each with number, limit and source."""

from __future__ import annotations

import argparse
import sys

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Outputs, add_outputs
from barfem.cli.parser import Commands, command, status

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Goes through what makes bars scrap or dangerous before the drawing leaves the
house: bends and clamps, flats and holes, the wrong way round, hardness and
skin, links, keep-out bodies over the whole sweep, every hole setting's check,
and what the drawing leaves open. Each finding has its number, limit and source.
"""

EPILOG = """\
examples
  barfem review BAR.toml
  barfem review BAR.toml --json review.json

[review] limits in the bar file overrides the limit of a rule by its key.

exit status
  0  nothing stops the bar
  1  a stop stands
  2  the input is wrong
"""

OUTPUTS = (JSON,)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "review", DESCRIPTION, EPILOG)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Review, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    path = bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[path])
    from barfem.model.read import read_bar
    from barfem.show.console import make_console
    from barfem.show.review import review_text
    from barfem.vendor.review import review_bar

    found = review_bar(read_bar(path))
    width = make_console(sys.stdout).width
    out.write(found, then=lambda: print(review_text(found, width=min(width, 100)), end=""))
    return status(not found.stops)
