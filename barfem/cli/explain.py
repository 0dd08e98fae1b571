"""`barfem explain KEY`: what a number of a check is, and what it is at each hole setting of a bar."""

from __future__ import annotations

import argparse
import re
from typing import TYPE_CHECKING, Any

from barfem.cli.bar_file import bar_path
from barfem.cli.method import add_method
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError

if TYPE_CHECKING:
    from barfem.check.result import CheckResult
    from barfem.show.explain import Explanation

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Explains a number of a check: its unit, sign, formula and source. KEY is a
heading of a printed table or a key of the JSON. Without KEY it lists what there
is. With a bar file it also prints the number at every hole setting, and the
method by which this check came to it.
"""

EPILOG = """\
examples
  barfem explain
  barfem explain "yield margin"
  barfem explain peak.von_mises_MPa geometries/pickup-front-solid.toml --quick
"""


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "explain", DESCRIPTION, EPILOG, bar=False)
    parser.add_argument("key", metavar="KEY", nargs="?", help="a heading of a table, or a key of the JSON")
    parser.add_argument("bar", metavar="BAR.toml", nargs="?", help="the bar file whose numbers to print with it")
    add_method(parser)


def run(args: argparse.Namespace) -> int:
    """Print one explanation, or the list of all. Returns 0; raises InputError for a key that is not there."""
    from barfem.show.explain import explain, explanations

    if args.key is None:
        titles = ("car", "maker", "vendor", "words")
        known = [*explanations(), *(entry for of in titles for entry in explanations(of))]
        width = max(len(entry.title) for entry in known)
        for entry in known:
            unit = f"  [{entry.unit}]" if entry.unit else ""
            print(f"{entry.title:{width}}{unit}".rstrip())
        print("\nbarfem explain KEY explains one of them, by its title, its column or its JSON key.")
        return 0
    if args.bar is None and (args.quick or args.model != "beam" or args.mean_stress is not None):
        raise InputError(
            "how a check is made says nothing without a bar.",
            where="--quick, --model, --mean-stress",
            expected="a bar file beside it; without one every method is told.",
        )
    explain(args.key)  # a key that is not there is refused before anything is solved
    result = None if args.bar is None else _checked(args)
    found = explain(args.key, result)
    print("\n".join([str(found), *(() if result is None else _numbers(result, found))]))
    return 0


def _checked(args: argparse.Namespace) -> CheckResult:
    from barfem.check.api import check_bar
    from barfem.check.timing import Timing
    from barfem.show.progress import Progress

    path = bar_path(args.bar)
    with Progress() as progress:
        return check_bar(
            path,
            model=args.model,
            quick=args.quick,
            mean_stress=args.mean_stress,
            timing=Timing(on_stage=progress.stage),
            tell=progress.stage,
        )


def _numbers(result: CheckResult, found: Explanation) -> list[str]:
    """Lines with the number at every hole setting of a check, in the figures of its tables; none for a mere word."""
    from barfem.show.explain import matches, values_of
    from barfem.show.numbers import printable

    known = list(values_of(result))
    runouts = {(key, where): value for key, where, value in known if key.endswith(".runout")}
    values = [found_value for found_value in known if matches(found, found_value[0])]
    single = [value for value in values if not value[1].removesuffix(": ").count(": ")]  # of no list of places
    paths = {key for key, _, _ in single or values}
    lines = ["", result.name] if values else []
    for key, where, value in single or values:
        table, _, last = key.rpartition(".")
        shown = printable(_shown(last, value, runout=bool(runouts.get((f"{table}.runout", where)))))
        alone = sum(path.rpartition(".")[2] == last for path in paths) == 1
        lines.append(f"  {where}{last if alone else key.removeprefix('settings.')} {shown}")
    return lines


def _shown(key: str, value: Any, *, runout: bool) -> str:
    """One value as the tables of `barfem check` print its kind; words and lists as they are.

    >>> from barfem.show.numbers import printable
    >>> [printable(_shown(key, 1234.567, runout=False)) for key in ("rate_N_per_mm", "von_mises_MPa", "life_cycles")]
    ['1 230', '1 235', '1 200']
    >>> _shown("safety_factor_at_target", 1.27013, runout=False), _shown("wall_mm", None, runout=False)
    ('1.27', 'none')
    """
    from barfem.show.lives import one_life
    from barfem.show.numbers import ratio, significant, whole

    if re.search(r"life\w*_(cycles|repeats)$", key):
        return one_life(value, runout=runout and value is None)
    if value is None:
        return "none"
    if not isinstance(value, float):
        return whole(value) if isinstance(value, int) and not isinstance(value, bool) else str(value)
    if key.endswith(("margin", "safety_factor", "safety_factor_at_target")):
        return ratio(value)
    if key.endswith(("_MPa", "_N", "_mm", "_cycles")) and "_per_" not in key and abs(value) >= 1000.0:
        return whole(value)
    return significant(value)
