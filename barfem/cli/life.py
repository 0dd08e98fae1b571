"""`barfem life`: one life from an amplitude and a mean, for checking a number against a book."""

from __future__ import annotations

import argparse
from pathlib import Path

from barfem.cli.outputs import JSON, Outputs, add_outputs, pictures_of
from barfem.cli.parser import Commands, command
from barfem.cli.values import number
from barfem.strength.fatigue.criteria import CRITERIA, DEFAULT_CRITERION

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
One life from one stress amplitude and mean, each factor on its own line, for
checking a number against a book. Stresses are in MPa, or with a unit, such as
"55 ksi"; von Mises where they have several components. The strength comes from
one of three places:

  a steel   --grade G --condition C, or --tensile S, or --hardness "45 HRC",
            with [--surface S] [--peening shot] [--decarburised-depth MM]
            [--diameter D] [--torsion-share T]
            the line of a bar with its skin, as barfem check uses it; of a
            bare --tensile or --hardness, where one of these is given
  bare      --tensile S --yield S [--endurance S] [--fraction f]
            from f x tensile strength at 1 000 cycles to the endurance limit at
            1 000 000, the same slope going on above; no factor is applied
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
      --diameter 24 --surface machined --peening shot
  barfem life --amplitude 600 --hardness "45 HRC" --surface as-hardened-scaled \\
      --decarburised-depth 0.2 --torsion-share 0.5
"""


OUTPUTS = (JSON, pictures_of("figures.life_plots:life_pictures"))


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "life", DESCRIPTION, EPILOG, bar=False)
    stress, plain = number("stress"), number()
    load = parser.add_argument_group("load")
    load.add_argument(
        "--amplitude",
        dest="amplitude_MPa",
        metavar="A",
        type=stress,
        required=True,
        help="stress amplitude (half the range)",
    )
    load.add_argument(
        "--mean",
        dest="mean_MPa",
        metavar="M",
        type=stress,
        default=0.0,
        help="mean stress, tension positive (default 0)",
    )
    steel = parser.add_argument_group("strength of a steel")
    steel.add_argument("--grade", metavar="G", help="a grade of barfem materials, or the path of your own table")
    steel.add_argument("--condition", metavar="C", help="a condition of that grade")
    steel.add_argument("--surface", metavar="S", help="finish of the skin (default as-hardened-scaled)")
    steel.add_argument("--peening", metavar="P", help="none or shot (default none), on top of any finish")
    steel.add_argument(
        "--peening-residual",
        dest="peening_residual_MPa",
        metavar="S",
        type=stress,
        help="measured at the surface, negative (default -500 MPa)",
    )
    steel.add_argument(
        "--decarburised-depth",
        dest="decarburised_mm",
        metavar="MM",
        type=number("length"),
        help="0 to 1 mm (default: what the finish is taken to hold)",
    )
    steel.add_argument("--hardness", metavar="H", help='such as "45 HRC"; tensile strength by ISO 18265')
    steel.add_argument(
        "--load",
        choices=("bar", "axial"),
        default="bar",
        help="axial: a specimen in push-pull, for comparison with tests (0.85 on sound steel)",
    )
    steel.add_argument(
        "--diameter",
        dest="diameter_mm",
        metavar="D",
        type=number("length"),
        help="diameter in mm for the size factor (default: no size factor)",
    )
    steel.add_argument(
        "--torsion-share",
        metavar="T",
        type=plain,
        help="torsion's share of the squared von Mises stress, 0 to 1 (default 0)",
    )
    bare = parser.add_argument_group("bare strengths")
    bare.add_argument("--tensile", dest="tensile_MPa", metavar="S", type=stress, help="tensile strength")
    bare.add_argument("--yield", dest="yield_MPa", metavar="S", type=stress, help="yield strength")
    bare.add_argument(
        "--endurance",
        dest="endurance_MPa",
        metavar="S",
        type=stress,
        help="endurance limit (default: half the tensile strength, at most 700 MPa)",
    )
    bare.add_argument(
        "--fraction",
        metavar="f",
        type=plain,
        help="fraction of the tensile strength at 1 000 cycles (default: the handbook's)",
    )
    curve = parser.add_argument_group("a curve")
    curve.add_argument(
        "--fatigue-strength-coefficient",
        dest="coefficient_MPa",
        metavar="S",
        type=stress,
        help="also what morrow needs",
    )
    curve.add_argument("--fatigue-strength-exponent", dest="exponent", metavar="b", type=plain, help="below 0")
    judged = parser.add_argument_group("method")
    judged.add_argument(
        "--method", choices=tuple(CRITERIA), default=DEFAULT_CRITERION, help="mean-stress rule (default goodman)"
    )
    judged.add_argument(
        "--walker-gamma", metavar="g", type=plain, help="gamma of walker (default 0.883 - 0.0002 x tensile strength)"
    )
    judged.add_argument(
        "--survival", metavar="R", type=plain, default=0.90, help="share of bars that survive (default 0.90)"
    )
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Print one life. Returns 0, also where there is no life and the reason is given; raises InputError."""
    out = Outputs(args, OUTPUTS)
    from barfem.show.life import print_life
    from barfem.strength.fatigue.hand_estimate import estimate
    from barfem.strength.fatigue.hand_inputs import LifeInputs

    given = {name: getattr(args, name) for name in LifeInputs.__dataclass_fields__}
    result = estimate(LifeInputs(**given), folder=Path.cwd())
    out.write(result, then=lambda: print_life(result))
    return 0
