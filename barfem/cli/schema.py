"""`barfem schema`: the keys of the bar file as JSON Schema, for editors and other programs."""

from __future__ import annotations

import argparse
import json

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


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "schema",
        help="the keys of the bar file as JSON Schema, for editors and other programs",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("--out", metavar="FILE", help="write it there (default: standard output)")


def run(args: argparse.Namespace) -> int:
    """Print or write the schema. Returns 0; raises InputError where the file cannot be written."""
    from barfem.model.json_schema import bar_file_schema
    from barfem.show.output import check_output_path, write_whole

    text = json.dumps(bar_file_schema(), indent=2, ensure_ascii=False)
    if args.out is None or args.out == "-":
        print(text)
    else:
        write_whole(check_output_path(args.out, option="--out"), f"{text}\n", option="--out")
        print(f"wrote {args.out}")
    return 0
