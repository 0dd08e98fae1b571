"""The command line's parser: wrong words are answered as wrong bar files are, in one line that says what is right."""

from __future__ import annotations

import argparse
import re
from typing import NoReturn

__all__ = ["Parser"]

WRONG_INPUT = 2

_CHOICE = re.compile(r"argument (?P<name>[^:]+): invalid choice: (?P<given>.+?) \(choose from (?P<known>.+)\)")
_COUNT = re.compile(r"argument (?P<name>[^:]+): expected (?P<count>.+)")


class Parser(argparse.ArgumentParser):
    """An `argparse.ArgumentParser` that says what would be right, without its whole usage."""

    def error(self, message: str) -> NoReturn:
        """Print what is wrong on standard error and exit with 2."""
        self.exit(WRONG_INPUT, f"barfem: error: {self._words(message)}\n")

    def _words(self, message: str) -> str:
        shows = f"what {self.prog} --help shows"
        if found := _CHOICE.fullmatch(message):
            known = [each.strip().strip("'") for each in found["known"].split(",")]
            right = " or ".join(filter(None, (", ".join(known[:-1]), known[-1])))
            return f"{found['name']}: {found['given']} is none of its values. Right would be: {right}."
        if found := _COUNT.fullmatch(message):
            return f"{found['name']}: its value is missing. Right would be: {shows}."
        missing = message.removeprefix("the following arguments are required: ")
        if missing != message:
            return f"{self.prog} needs {missing}. Right would be: {shows}."
        text = message.removeprefix("argument ")
        return f"{text}{'' if text.endswith('.') else '.'} Right would be: {shows}."
