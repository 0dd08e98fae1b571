"""`barfem page BAR.toml`: the check live, on a page of this machine."""

from __future__ import annotations

import argparse
from pathlib import Path

from barfem.cli.bar_file import bar_path
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Opens a page in the browser on which the bar can be changed and answers at once:
section, shape, holes, travel, bushings, links, steel and finish beside the bar
in three dimensions, its hole settings and the verdict of barfem check. What is
found is written as a new bar file; the one that is opened stays as it is.
"""

EPILOG = """\
examples
  barfem page geometries/pickup-rear-tube.toml
  barfem page
  barfem page BAR.toml --port 8765 --no-browser

Without a file it begins with the defaults of barfem new and asks for a name
when the bar is written, in this folder. A bar file that was edited meanwhile
is read when the page is loaded again; what is changed on the page stays.

The page is served by this machine to this machine alone, and only to who has
the whole printed address. Nothing is asked of any other machine. Ctrl-C stops
it.

exit status
  0  stopped
  2  the input is wrong, or the port is taken
"""


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "page", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("bar", metavar="BAR.toml", nargs="?", help="the bar file (default: a new bar)")
    parser.add_argument("--port", metavar="N", default="0", help="port of 127.0.0.1 (default: a free one)")
    parser.add_argument("--no-browser", action="store_true", help="print the address and open nothing")


def run(args: argparse.Namespace) -> int:
    """Serve until Ctrl-C. Returns 0; raises InputError where file or port are wrong."""
    port = _port(args.port)
    from barfem.page.session import open_file, start_afresh

    if args.bar is None:
        from barfem.cli.new_answers import gather
        from barfem.cli.new_file import bar_file

        answers, defaults = gather({})
        session = start_afresh(bar_file(answers, defaults, file="my-bar.toml"), Path.cwd())
    else:
        session = open_file(bar_path(args.bar))
    from barfem.page.serve import serve

    serve(session, port=port, browser=not args.no_browser)
    return 0


def _port(text: str) -> int:
    if not text.isdecimal() or not int(text) <= 65535:
        raise InputError(
            f"{text[:40]!r} is no port.", where="--port", expected="a number from 1024 to 65535, such as 8765."
        )
    return int(text)
