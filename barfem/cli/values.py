"""Numbers on the command line: one converter for all, plain in the option's own unit or with a unit in quotes.

Each function makes an argument type. What it refuses is an `InputError`, to which the parser adds the option's name.
"""

from __future__ import annotations

from collections.abc import Callable

from barfem.model.errors import InputError

__all__ = ["BAR_RATE", "count", "number"]


BAR_RATE = '30.0 (N/mm) or "170 lbf/in"'
"""A rate of a bar's pickup, for messages."""


def number(
    kind: str = "plain",
    *,
    above: float | None = None,
    least: float | None = None,
    below: float | None = None,
    example: str | None = None,
) -> Callable[[str], float]:
    """An argument type: a finite number of `kind`, a key of `barfem.model.units.UNITS`.

    Parameters
    ----------
    kind
        "length" is mm, "force per length" N/mm, "stress" MPa, "angle" deg; "plain" has no unit.
    above, least, below
        Bounds, in that unit; only `least` may be met.
    example
        What is right, for messages, where that of the kind would mislead: a mount's stiffness is no bar's rate.
    """

    def convert(text: str) -> float:
        from barfem.model import units

        try:
            value = units.number(float(text), kind, example=example)
        except ValueError:
            value = units.number(text, kind, example=example)
        bounds = [
            *([f"above {above:g}"] if above is not None else []),
            *([f"from {least:g} up"] if least is not None else []),
            *([f"below {below:g}"] if below is not None else []),
        ]
        inside = (
            (above is None or value > above) and (least is None or value >= least) and (below is None or value < below)
        )
        if not inside:
            raise InputError(f"{text} is out of its range.", expected=f"a number {' and '.join(bounds)}.")
        return value

    return convert


def count(least: int = 0) -> Callable[[str], int]:
    """An argument type: a whole number from `least` up; 200000, 200_000 and 2e5 are the same."""

    def convert(text: str) -> int:
        try:
            value = float(text)
            whole = int(value)
        except (ValueError, OverflowError):
            raise InputError(f"{text!r} is no whole number.", expected=f"a whole number from {least} up.") from None
        if whole != value or whole < least:
            raise InputError(f"{text} is no whole number from {least} up.", expected=f"{max(least, 1)}, for one.")
        return whole

    return convert
