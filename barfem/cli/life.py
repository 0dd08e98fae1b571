"""`barfem life`: one life from an amplitude and a mean, for checking a number against a book."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import Any

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


def _option(
    words: str, help: str, type: Any = None, dest: str | None = None, **more: Any
) -> tuple[str, dict[str, Any]]:
    """An option with its metavar, what reads it, and the field of `LifeInputs` where that is called otherwise."""
    option, _, metavar = words.partition(" ")
    return option, {"metavar": metavar or None, "help": help, "type": type, "dest": dest, **more}


STRESS, LENGTH, PLAIN = number("stress"), number("length"), number()
GROUPS = {
    "load": (
        _option("--amplitude A", "stress amplitude (half the range)", STRESS, "amplitude_MPa", required=True),
        _option("--mean M", "mean stress, tension positive (default 0)", STRESS, "mean_MPa", default=0.0),
    ),
    "strength of a steel": (
        _option("--grade G", "a grade of barfem materials, or the path of your own table"),
        _option("--condition C", "a condition of that grade"),
        _option("--surface S", "finish of the skin (default as-hardened-scaled)"),
        _option("--peening P", "none or shot (default none), on top of any finish"),
        _option(
            "--peening-residual S",
            "measured at the surface, negative (default -500 MPa)",
            STRESS,
            "peening_residual_MPa",
        ),
        _option(
            "--decarburised-depth MM",
            "0 to 1 mm (default: what the finish is taken to hold)",
            LENGTH,
            "decarburised_mm",
        ),
        _option("--hardness H", 'such as "45 HRC"; tensile strength by ISO 18265'),
        _option(
            "--load",
            "axial: a specimen in push-pull, for comparison with tests (0.85 on sound steel)",
            choices=("bar", "axial"),
            default="bar",
        ),
        _option("--diameter D", "diameter in mm for the size factor (default: no size factor)", LENGTH, "diameter_mm"),
        _option("--torsion-share T", "torsion's share of the squared von Mises stress, 0 to 1 (default 0)", PLAIN),
    ),
    "bare strengths": (
        _option("--tensile S", "tensile strength", STRESS, "tensile_MPa"),
        _option("--yield S", "yield strength", STRESS, "yield_MPa"),
        _option(
            "--endurance S",
            "endurance limit (default: half the tensile strength, at most 700 MPa)",
            STRESS,
            "endurance_MPa",
        ),
        _option("--fraction f", "fraction of the tensile strength at 1 000 cycles (default: the handbook's)", PLAIN),
    ),
    "a curve": (
        _option("--fatigue-strength-coefficient S", "also what morrow needs", STRESS, "coefficient_MPa"),
        _option("--fatigue-strength-exponent b", "below 0", PLAIN, "exponent"),
    ),
    "method": (
        _option(
            "--method RULE",
            f"mean-stress rule: {', '.join(CRITERIA)} (default {DEFAULT_CRITERION})",
            choices=tuple(CRITERIA),
            default=DEFAULT_CRITERION,
        ),
        _option("--walker-gamma g", "gamma of walker (default 0.883 - 0.0002 x tensile strength)", PLAIN),
        _option("--survival R", "share of bars that survive (default 0.90)", PLAIN, default=0.90),
    ),
}


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "life", DESCRIPTION, EPILOG, bar=False)
    for title, options in GROUPS.items():
        group = parser.add_argument_group(title)
        for option, given in options:
            group.add_argument(option, **given)
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
