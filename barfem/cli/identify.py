"""`barfem identify BAR.toml CURVE.csv ...`: a bar's own parameters from its measured curves."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Outputs, add_outputs, bar_file_of
from barfem.cli.parser import Commands, command, status

if TYPE_CHECKING:
    from barfem.model.bar import Bar
    from barfem.vendor.identify import Identified

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Finds what a measured bar really has: rate, zero, slack and loop of each curve,
then diameter (or wall), bushing and link stiffness from all curves together, by
least squares on the beam model, with standard errors. What the data cannot tell
apart is said, not guessed.
"""

EPILOG = """\
the curves (CSV; commas, or semicolons with decimal commas)
  # units = mm, N ; case = one_end_held     (or roll; or a column case)
  x_mm, force_N     at the moving pickup (the left one), along its travel; both
                    senses, and ten points a branch, for slack and friction
  hole_left, hole_right, case, bar, branch  (up, down); holes may stand in the
                    header: # hole = 2

examples
  barfem identify BAR.toml curves.csv
  barfem identify BAR.toml curves.csv --free diameter_mm
  barfem identify BAR.toml curves.csv --write found.toml

exit status
  0  all that was sought is found
  1  the curves cannot tell something of it
  2  the input is wrong
"""


def _bar(found: Identified) -> tuple[Bar | None, str]:
    from barfem.vendor.identify import changed_bar

    if not found.found:
        return None, ""
    values = ", ".join(f"{name} {each.value:.6g} (standard error {each.se:.2g})" for name, each in found.found.items())
    return changed_bar(found.bar, found), f"Measured, found by barfem identify on the bar of {{}}: {values}."


OUTPUTS = (
    JSON,
    bar_file_of(_bar, "a bar file that has what was found, marked measured"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "identify", DESCRIPTION, EPILOG)
    parser.add_argument("curves", metavar="CURVE.csv", nargs="+", help="load-deflection curves")
    parser.add_argument(
        "--free",
        metavar="NAME",
        nargs="+",
        help="what is sought: diameter_mm, wall_mm, mount_radial_stiffness_N_per_mm, "
        "link_stiffness_N_per_mm (default diameter and mount)",
    )
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Identify, write and print. Returns 0, or 1 where something sought could not be told; raises InputError."""
    path = bar_path(args.bar)
    out = Outputs(args, OUTPUTS, inputs=[path, *args.curves])
    from barfem.model.read import read_bar
    from barfem.show.identify import print_identified
    from barfem.show.progress import Progress
    from barfem.vendor.identify import DEFAULT_FREE, identify
    from barfem.vendor.identify_reading import several

    bar = read_bar(path)
    curves, notes = several(args.curves, bar)
    with Progress("curves"):
        found = replace(identify(bar, curves, free=args.free or DEFAULT_FREE), notes=notes)
    out.write(found, then=lambda: print_identified(found))
    return status(bool(found.found) and not found.cannot_tell)
