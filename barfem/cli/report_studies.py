"""What `barfem report` shows beside the check when it is asked to: a tolerance band, and other bars."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import refuse_alone
from barfem.cli.study import EQUAL, add_bent, add_equal, add_workers, equal_of
from barfem.cli.values import count
from barfem.model.errors import InputError

if TYPE_CHECKING:
    from barfem.model.bar import Bar, Section
    from barfem.show.figures.picture import Picture
    from barfem.show.report.sections import Section as PageSection

__all__ = ["add_options", "other_bars", "refuse_options_alone", "study_sections"]

OF_TOLERANCE = ("samples", "seed", "save", "workers")
OF_COMPARE = (*(f"equal_{what}" for what in EQUAL), "bent")


def add_options(parser: argparse.ArgumentParser) -> None:
    """The options of both studies, named as in `barfem tolerance` and `barfem compare`."""
    band = parser.add_argument_group("how far bars of the drawing differ, as barfem tolerance")
    band.add_argument("--tolerance", action="store_true", help="add it: bands of rate, stress, margin, life")
    band.add_argument("--samples", metavar="N", type=count(), help="bars to make (default 2048)")
    band.add_argument("--seed", metavar="N", type=count(), help="another seed, other bars (default 1)")
    add_workers(band, cluster=False)
    parser.add_argument_group("the bar in its car, as barfem car and barfem balance").add_argument(
        "--car", metavar="CAR.toml", help="a car file that names this bar file"
    )
    beside = parser.add_argument_group("other bars beside this one, as barfem compare")
    beside.add_argument(
        "--compare", metavar="BAR", action="append", help='"tube 28x4.5", "round 24", or a bar file; repeatable'
    )
    add_equal(beside, "this bar's")
    add_bent(beside)


def refuse_options_alone(args: argparse.Namespace) -> None:
    """Refuse options of a study that was not asked for.

    Raises
    ------
    InputError
        Such as --samples without --tolerance.
    """
    refuse_alone(args, OF_TOLERANCE, "--tolerance", asked=bool(args.tolerance))
    refuse_alone(args, OF_COMPARE, "--compare", asked=bool(args.compare))


def other_bars(args: argparse.Namespace) -> tuple[list[Path], list[Section]]:
    """Bar files and sections that --compare names.

    Raises
    ------
    InputError
        It is neither.
    """
    from barfem.study.sections import parse_section

    named = list(args.compare or ())
    files = [bar_path(text) for text in named if text.lower().endswith(".toml")]
    return files, [parse_section(text, where="--compare") for text in named if not text.lower().endswith(".toml")]


def study_sections(
    args: argparse.Namespace, bar: Bar, files: list[Path], sections: list[Section], save: Path | None
) -> tuple[list[PageSection], list[Picture]]:
    """Sections of the page and the figures in them, of whatever was asked for; nothing costs nothing.

    Raises
    ------
    InputError
        As `barfem tolerance` and `barfem compare`.
    """
    from barfem.show.progress import Progress

    made: list[PageSection] = []
    pictures: list[Picture] = []
    if args.car is not None:
        section, picture = _in_car(args.car, bar)
        made.append(section)
        pictures.append(picture)
    if args.compare:
        from barfem.model.read import read_bar
        from barfem.show.compare_picture import comparison_pictures
        from barfem.show.report.studies import comparison_sections
        from barfem.study.compare import compare

        with Progress("other bars"):
            beside = compare(
                [bar, *(read_bar(path) for path in files)],
                sections,
                equal=equal_of(args),
                case=args.case,
                bent=args.bent,
            )
        made += comparison_sections(beside)
        pictures += comparison_pictures(beside)
    if args.tolerance:
        from barfem.show.report.studies import tolerance_section
        from barfem.show.tolerance_picture import tolerance_picture
        from barfem.show.tolerance_progress import kept_in
        from barfem.study.tolerance import tolerance

        with kept_in(save) as progress:
            spread = tolerance(
                bar,
                samples=args.samples,
                seed=1 if args.seed is None else args.seed,
                case=args.case,
                workers=args.workers,
                save=save,
                progress=progress,
                taken_up=progress.taken_up,
            )
        made.append(tolerance_section(spread))
        pictures.append(tolerance_picture(spread))
    return made, pictures


def _in_car(text: str, bar: Bar) -> tuple[PageSection, Picture]:
    """The section of the bar in the car of a car file, and the map of its hole pairs.

    Raises
    ------
    InputError
        The car file is wrong, or names another bar.
    """
    from barfem.car.analysis import analyse_car
    from barfem.car.balance import balance
    from barfem.car.read import read_car
    from barfem.show.car.balance_map import balance_map
    from barfem.show.progress import Progress
    from barfem.show.report.car import car_section

    car = read_car(bar_path(text, kind="car file"))
    fitted = [axle.bar.bar.source for axle in car.axles if axle.bar is not None and axle.bar.bar is not None]
    here = None if bar.source is None else Path(bar.source).resolve()
    if here not in [Path(source).resolve() for source in fitted if source is not None]:
        raise InputError(
            f"{text} has this bar on neither axle.",
            where="--car",
            expected=f"a car file with file = {str(bar.source)!r} in [front.bar] or [rear.bar].",
        )
    with Progress("car"):
        pairs = balance(car)
        return car_section(analyse_car(car), pairs), balance_map(pairs)
