"""The errors a user can cause: each says what is wrong, where, and what would be right."""

from __future__ import annotations

import re

__all__ = ["BarfemError", "InputError"]

_LONG = re.compile(r"\S{200,}")


class BarfemError(Exception):
    """Base of every error that barfem raises on purpose; the command line turns it into exit status 2."""


class InputError(BarfemError):
    """A bar file, material table or option that cannot be right.

    Parameters
    ----------
    problem
        What is wrong, in one sentence, with the offending value.
    where
        Where it stands: a table and key such as ``[section] wall`` or ``[[mounts]] 2, from_middle``.
    expected
        What would be right.
    file
        The file it was read from; filled in by the reader when the message is made elsewhere.
    """

    def __init__(
        self, problem: str, *, where: str | None = None, expected: str | None = None, file: str | None = None
    ) -> None:
        # What was written may be of any length; its beginning and end are enough to find it again.
        self.problem = _LONG.sub(lambda found: f"{found[0][:80]}...{found[0][-20:]}", problem)
        self.where = where
        self.expected = expected
        self.file = file
        super().__init__(self.problem)

    def in_file(self, file: str) -> InputError:
        """The same error, naming a file if it named none.

        Parameters
        ----------
        file
            The file it was read from.
        """
        return InputError(self.problem, where=self.where, expected=self.expected, file=self.file or file)

    def __str__(self) -> str:
        place = ": ".join(part for part in (self.file, self.where) if part)
        text = f"{place}: {self.problem}" if place else self.problem
        text = f"{text} Right would be: {self.expected}" if self.expected else text
        return text if text.endswith((".", "!", "?")) else f"{text}."
