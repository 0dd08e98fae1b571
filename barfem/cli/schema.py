"""`barfem schema`: the keys of the bar file as JSON Schema, for editors and other programs."""

from __future__ import annotations

import argparse
import json

from barfem.cli.outputs import Declared, Outputs, add_outputs
from barfem.cli.parser import Commands, command

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Prints the JSON Schema (draft 2020-12) of the bar file: every key with its kind,
range and description. Editors that know it complete and check a bar file while
it is typed, and other programs can check one before they send it. What keys
mean together is judged by barfem check alone.
"""

EPILOG = """\
examples
  barfem schema
  barfem schema --out bar.schema.json

A bar file names its schema in its first line, as barfem new writes it:
  #:schema ./bar.schema.json
"""


OUTPUTS = (
    Declared(
        "--out", "write it there (default: standard output)", lambda text, args: text, stdout=True, message="wrote {}"
    ),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "schema", DESCRIPTION, EPILOG, bar=False)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Print or write the schema. Returns 0; raises InputError where the file cannot be written."""
    from barfem.model.json_schema import bar_file_schema

    args.out = args.out or "-"
    out = Outputs(args, OUTPUTS)
    out.write(json.dumps(bar_file_schema(), indent=2, ensure_ascii=False) + "\n", then=lambda: None)
    return 0
