"""`barfem materials`: the steels there are, or one of them with its sources."""

from __future__ import annotations

import argparse
from pathlib import Path

from barfem.cli.parser import Commands, command

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Lists the steels that ship with barfem, a line a heat-treated condition. With a
grade, shows it with every number and its source, and the surface conditions
that a bar file may name.
"""

EPILOG = """\
examples
  barfem materials
  barfem materials 51CrV4

GRADE may be a table of your own: its path, or the name of a .toml file in this
folder. The easiest start is a copy of one of barfem's tables; the path is
printed with each grade.
"""


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "materials", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("grade", metavar="GRADE", nargs="?", help="a grade, one of its other names, or a table's path")


def run(args: argparse.Namespace) -> int:
    """Print the list, or one grade. Returns 0; raises InputError for a grade that is not there."""
    from barfem.model.material_table import find_table, known_tables, read_table
    from barfem.show.materials import print_grade, print_grades

    if args.grade is None:
        print_grades([read_table(path) for path in known_tables().values()])
    else:
        table, path, _ = find_table(args.grade, bar_dir=Path.cwd(), where="GRADE")
        print_grade(table, path)
    return 0
