"""The command line's parser: wrong words are answered as wrong bar files are, in one line that says what is right."""

from __future__ import annotations

import argparse
import re
import sys
from typing import Any, NoReturn

from barfem.model.errors import InputError
from barfem.model.sentences import enumerated

__all__ = ["Commands", "Parser", "command", "status"]

Commands = argparse._SubParsersAction

WRONG_INPUT = 2

_CHOICE = re.compile(
    r"argument (?P<name>[^:]+): invalid choice: (?P<given>.+?)(?:, maybe you meant .+\?)? \(choose from (?P<known>.+)\)"
)
_COUNT = re.compile(r"argument (?P<name>[^:]+): expected (?P<count>.+)")


class Parser(argparse.ArgumentParser):
    """An `argparse.ArgumentParser` that says what would be right, without its whole usage."""

    def __init__(self, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        # argparse takes -1e2, -20ksi and -1,0,0,2 for options: its own pattern is that of one plain number.
        self._negative_number_matcher = re.compile(r"-\.?\d")

    def error(self, message: str) -> NoReturn:
        """Print what is wrong on standard error and exit with 2."""
        self.exit(WRONG_INPUT, f"barfem: error: {self._words(message)}\n")

    def _print_message(self, message: str, file: Any = None) -> None:
        """Help that cannot be written is an error like any other; argparse would pass over it."""
        if message:
            (sys.stderr if file is None else file).write(message)

    def _get_value(self, action: argparse.Action, arg_string: str) -> Any:
        """The value of an argument; what its converter refuses is told with the option's name."""
        try:
            return super()._get_value(action, arg_string)
        except InputError as error:
            name = "/".join(action.option_strings) or str(action.metavar)
            raise InputError(error.problem, where=name, expected=error.expected) from None

    def _words(self, message: str) -> str:
        shows = f"what {self.prog} --help shows"
        if found := _CHOICE.fullmatch(message):
            known = [each.strip().strip("'") for each in found["known"].split(",")]
            right = enumerated(known, "or")
            return f"{found['name']}: {found['given']} is none of its values. Right would be: {right}."
        if found := _COUNT.fullmatch(message):
            return f"{found['name']}: its value is missing. Right would be: {shows}."
        missing = message.removeprefix("the following arguments are required: ")
        if missing != message:
            return f"{self.prog} needs {missing}. Right would be: {shows}."
        text = message.removeprefix("argument ")
        return f"{text}{'' if text.endswith('.') else '.'} Right would be: {shows}."


def command(
    commands: Commands[argparse.ArgumentParser], name: str, description: str, epilog: str, *, bar: bool = True
) -> argparse.ArgumentParser:
    """The parser of one command, its texts laid out as they are written; with BAR.toml first where it takes one."""
    from barfem.cli.main import COMMANDS

    parser = commands.add_parser(
        name,
        help=COMMANDS[name][1],
        description=description,
        epilog=epilog,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    if bar:
        parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    return parser


def status(yes: bool) -> int:
    """A command's exit status: 0 is yes, 1 is no."""
    return 0 if yes else 1
