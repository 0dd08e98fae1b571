"""`barfem compare BAR.toml ...`: bars and sections side by side."""

from __future__ import annotations

import argparse

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, Outputs, add_outputs, csv_of
from barfem.cli.parser import Commands, command, status
from barfem.cli.study import add_bent, add_case, add_equal, equal_of
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Checks bars side by side: other sections on the centreline of the first bar
file, and whole bar files. Prints rate, mass, stress, margin and life at every
hole, at equal geometry; and, where asked, with each bar resized to equal rate,
stress or mass.
"""

EPILOG = """\
examples
  barfem compare BAR.toml --section "tube 28x4.5" --section "round 24"
  barfem compare BAR.toml --section "tube 28x4.5" --equal-rate --hole 2
  barfem compare FRONT.toml OTHER.toml

a section
  "round 24" or "tube 28x4.5": outside diameter x wall, mm (or "0.945 in").
  Holes, mounts, links, travel and steel stay as in the file. Flats go with the
  section they are forged or pressed from; --flats keep leaves them. A tube must
  say when it was bent: in the bar file's [material], or by --bent.

exit status
  0  every bar of the first table meets its targets
  1  at least one does not
  2  the input is wrong
"""


OUTPUTS = (JSON, csv_of("compare:settings_tables", "the hole settings of all bars"))


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "compare", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("bars", metavar="BAR.toml", nargs="+", help="bar files; sections are put on the first")
    parser.add_argument("--section", metavar="SECTION", action="append", default=[], help="another section; repeatable")
    add_equal(parser, "the first bar's")
    parser.add_argument("--hole", metavar="NAME", help="hole at which they are made equal (default: the stiffest)")
    add_case(parser)
    parser.add_argument("--flats", choices=("scale", "keep"), default="scale", help="what becomes of flats")
    add_bent(parser)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Compare, write and print. Returns 0 or 1; raises InputError where the input is wrong."""
    from barfem.show.progress import Progress
    from barfem.study.compare import compare

    paths = [bar_path(text) for text in args.bars]
    out = Outputs(args, OUTPUTS, inputs=paths)
    equal = equal_of(args)
    if args.hole is not None and not equal:
        raise InputError(
            "a hole at which bars are made equal, and nothing that is made equal.",
            where="--hole",
            expected="--equal-rate, --equal-stress or --equal-mass with it.",
        )
    with Progress("bars"):
        found = compare(
            paths,
            args.section,
            equal=equal,
            hole=args.hole,
            case=args.case,
            flats=args.flats,
            bent=args.bent,
        )
    from barfem.show.compare import print_comparison

    out.write(found, then=lambda: print_comparison(found))
    return status(all(each.result.passes for each in found.views[0].candidates))
