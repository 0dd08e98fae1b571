"""`barfem life`: one life from an amplitude and a mean, for checking a number against a book."""

from __future__ import annotations

import argparse
import json
import math
import sys
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.cli.plots import add_plots, plots_folder, say_plots
from barfem.model.errors import InputError
from barfem.version import __version__

if TYPE_CHECKING:
    from barfem.strength.fatigue.hand_inputs import LifeInputs

__all__ = ["add_parser", "run"]

METHODS = ("goodman", "gerber", "soderberg", "morrow", "swt", "walker")

DESCRIPTION = """\
One life from one stress amplitude and mean, each factor on its own line, for
checking a number against a book. Stresses are in MPa, or with a unit, such as
"55 ksi"; von Mises where they have several components. The strength comes from
one of three places:

  a steel   --grade G --condition C [--surface S] [--diameter D]
            [--torsion-share T]
            the handbook line with its factors, as barfem check uses it
  bare      --tensile S --yield S [--endurance S] [--fraction f]
            from f x tensile strength at 1,000 cycles to the endurance limit at
            1,000,000, the same slope going on above; no factor is applied
  a curve   --fatigue-strength-coefficient S --fatigue-strength-exponent b
            amplitude = coefficient x (2N)^exponent; --tensile, --yield and
            --endurance as known
"""

EPILOG = """\
A negative number in exponent form needs an equals sign: --mean=-1e2.

examples
  barfem life --amplitude 379.2 --tensile 620.5 --yield 450 \\
      --endurance 310.3 --fraction 0.86
  barfem life --amplitude 450 --mean 200 --method morrow \\
      --fatigue-strength-coefficient 1758 --fatigue-strength-exponent -0.0977
  barfem life --amplitude 600 --grade 51CrV4 --condition "QT EN 10089" \\
      --diameter 24
"""


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "life",
        help="one life from a stress amplitude and mean, each factor on its own line",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    load = parser.add_argument_group("load")
    load.add_argument("--amplitude", metavar="A", required=True, help="stress amplitude (half the range)")
    load.add_argument("--mean", metavar="M", default="0", help="mean stress, tension positive (default 0)")
    steel = parser.add_argument_group("strength of a steel")
    steel.add_argument("--grade", metavar="G", help="a grade of barfem materials, or the path of your own table")
    steel.add_argument("--condition", metavar="C", help="a condition of that grade")
    steel.add_argument("--surface", metavar="S", help="surface condition (default as-hardened-scaled)")
    steel.add_argument("--diameter", metavar="D", help="diameter in mm for the size factor (default: no size factor)")
    steel.add_argument(
        "--torsion-share", metavar="T", help="torsion's share of the squared von Mises stress, 0 to 1 (default 1)"
    )
    bare = parser.add_argument_group("bare strengths")
    bare.add_argument("--tensile", metavar="S", help="tensile strength")
    bare.add_argument("--yield", dest="yield_", metavar="S", help="yield strength")
    bare.add_argument(
        "--endurance", metavar="S", help="endurance limit (default: half the tensile strength, at most 700 MPa)"
    )
    bare.add_argument(
        "--fraction", metavar="f", help="fraction of the tensile strength at 1,000 cycles (default: the handbook's)"
    )
    curve = parser.add_argument_group("a curve")
    curve.add_argument("--fatigue-strength-coefficient", metavar="S", help="also what morrow needs")
    curve.add_argument("--fatigue-strength-exponent", metavar="b", help="below 0")
    judged = parser.add_argument_group("method")
    judged.add_argument("--method", choices=METHODS, default="goodman", help="mean-stress rule (default goodman)")
    judged.add_argument(
        "--walker-gamma", metavar="g", help="gamma of walker (default 0.883 - 0.0002 x tensile strength)"
    )
    judged.add_argument("--survival", metavar="R", default="0.90", help="share of bars that survive (default 0.90)")
    add_plots(parser)
    parser.add_argument("--json", metavar="FILE", help="write the result as JSON; - is standard output, nothing else")


def run(args: argparse.Namespace) -> int:
    """Print one life. Returns 0, also where there is no life and the reason is given; raises InputError."""
    target = None
    if args.json is not None and args.json != "-":
        from barfem.show.output import check_output_path

        target = check_output_path(args.json, option="--json")
    folder = plots_folder(args)
    inputs = _inputs(args)

    from barfem.strength.fatigue.hand_estimate import estimate

    result = estimate(inputs, folder=Path.cwd())
    if folder is not None:
        from barfem.show.figures.life_plots import life_pictures
        from barfem.show.figures.plots import write_plots

        write_plots(folder, life_pictures(result), kind=args.plots_format)
    if args.json is not None:
        text = (
            json.dumps(
                {"format": 1, "barfem": __version__, **result.to_json_dict()},
                indent=2,
                allow_nan=False,
                ensure_ascii=False,
            )
            + "\n"
        )
        if target is None:
            sys.stdout.write(text)
            return 0
        from barfem.show.output import write_whole

        write_whole(target, text, option="--json")
    from barfem.show.life import print_life

    print_life(result)
    say_plots(folder)
    return 0


def _inputs(args: argparse.Namespace) -> LifeInputs:
    from barfem.strength.fatigue.hand_inputs import LifeInputs

    return LifeInputs(
        amplitude_MPa=_required("--amplitude", args.amplitude),
        mean_MPa=_required("--mean", args.mean),
        method=args.method,
        survival=_required("--survival", args.survival, kind="plain"),
        grade=args.grade,
        condition=args.condition,
        surface=args.surface,
        diameter_mm=_number("--diameter", args.diameter, kind="length"),
        torsion_share=_number("--torsion-share", args.torsion_share, kind="plain"),
        tensile_MPa=_number("--tensile", args.tensile),
        yield_MPa=_number("--yield", args.yield_),
        endurance_MPa=_number("--endurance", args.endurance),
        fraction=_number("--fraction", args.fraction, kind="plain"),
        coefficient_MPa=_number("--fatigue-strength-coefficient", args.fatigue_strength_coefficient),
        exponent=_number("--fatigue-strength-exponent", args.fatigue_strength_exponent, kind="plain"),
        walker_gamma=_number("--walker-gamma", args.walker_gamma, kind="plain"),
    )


def _required(option: str, text: str, *, kind: str = "stress") -> float:
    """The number that `text` means: plain in the unit of `kind`, or with a unit."""
    from barfem.model.units import number

    try:
        plain: float | str = float(text)
    except ValueError:
        plain = text
    try:
        if isinstance(plain, float) and not math.isfinite(plain):
            raise InputError(f"{text} is not a finite number.", expected="a number.")
        return number(plain, kind)
    except InputError as error:
        raise InputError(error.problem, where=option, expected=error.expected) from error


def _number(option: str, text: str | None, *, kind: str = "stress") -> float | None:
    return None if text is None else _required(option, text, kind=kind)
