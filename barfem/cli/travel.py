"""`barfem travel CAR.toml`: how far the car can really move each bar's ends."""

from __future__ import annotations

import argparse
from pathlib import Path

from barfem.cli.car_options import CarQuestion, add_car_options, read_question
from barfem.cli.outputs import JSON, Declared, Options, Outputs, add_outputs
from barfem.cli.parser import Commands, command
from barfem.model.errors import InputError

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
How far the car can move the ends of each bar: the least of stops, tyre lift
and the states given, in roll, with one wheel, and in parallel; and a copy of
the bar file with these as its [travel], and with [use] also its [duty].
"""

EPILOG = """\
examples
  barfem travel geometries/coupe-car.toml
  barfem travel CAR.toml --write-front front-in-car.toml
  barfem check front-in-car.toml

exit status
  0  done
  2  the input is wrong
"""


def _bar_text(axle: str):  # type: ignore[no-untyped-def]
    def make(found: object, args: Options) -> str:
        from barfem.car.travel import TravelResult, bar_text_with_travel
        from barfem.study.written import carried

        assert isinstance(found, TravelResult)
        path = args.bar_files[axle]
        moved = found.axles[axle]
        if path is None or moved is None:
            raise InputError(
                f"the {axle} bar has no file to copy.",
                where=f"--write-{axle}",
                expected=f"[{axle}.bar] with file = ..., or no --write-{axle}.",
            )
        text = bar_text_with_travel(path, moved, car=found.car)
        return carried(text, path.parent, Path(getattr(args, f"write_{axle}")).parent)

    return make


def _force(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--force", action="store_true", help="let them replace a file that is there")


OUTPUTS = (
    JSON,
    Declared(
        "--write-front", "write the front bar's file with this travel", _bar_text("front"), bar_file=True,
        endings=(".toml",), what="bar file", message="wrote {}",
    ),
    Declared(
        "--write-rear", "write the rear bar's file with this travel", _bar_text("rear"), bar_file=True,
        endings=(".toml",), what="bar file", message="wrote {}", more=_force,
    ),
)  # fmt: skip


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "travel", DESCRIPTION, EPILOG, bar=False)
    add_car_options(parser)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Solve, write and print. Returns 0; raises InputError where the input is wrong."""
    asked = read_question(args)
    out = Outputs(args, OUTPUTS, inputs=asked.inputs)
    args.bar_files = {axle: _file(asked, axle) for axle in ("front", "rear")}
    from barfem.car.travel import travel_result
    from barfem.show.progress import Progress

    with Progress("travel"):
        found = travel_result(asked.car, **asked.fitted)
    from barfem.show.car.travel import print_travel

    out.write(found, then=lambda: print_travel(found))
    return 0


def _file(asked: CarQuestion, axle: str) -> Path | None:
    bar = getattr(asked.car, axle).bar
    return None if bar is None or bar.bar is None or bar.bar.source is None else Path(bar.bar.source)
