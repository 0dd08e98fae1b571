"""`barfem tolerance BAR.toml`: how far bars of one drawing differ."""

from __future__ import annotations

import argparse

from barfem.cli.bar_file import bar_path
from barfem.cli.outputs import JSON, SAVE, Outputs, add_outputs, csv_of, picture_of
from barfem.cli.parser import Commands, command
from barfem.cli.study import add_choice, add_workers
from barfem.cli.values import count

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Says of many bars that differ from the drawing within its bands how far rate,
stress, yield margin and life spread at every hole, which bands that comes from,
how many bars miss their rate or their life, and how left and right differ.
A hundred or so are made, solved and judged; a fit to them, whose error is
stated, answers for all. Where it is not good enough, more are solved.
"""

EPILOG = """\
examples
  barfem tolerance BAR.toml
  barfem tolerance BAR.toml --samples 10000 --hole 2
  barfem tolerance BAR.toml --exact --samples 5000 --save B.jsonl
  barfem tolerance BAR.toml --cluster tcp://10.0.0.5:8786 --save BAR.jsonl

bands
  Of diameter, wall, flats, straights, arms, bends, holes, mounts, bushings, E,
  strength: defaults by standards, printed with their sources. [tolerances] of
  the bar file sets them, geometries/README.md explains each key; bend_angle = 0
  switches one off.

a run that was stopped
  With --save each chunk of results is written as it is done. The same command
  goes on from there, with any number of workers. The same seed gives the same
  numbers on one machine or many.

exit status
  0  done, whatever was found
  2  the input is wrong
"""


WORK = "barfem.study.tolerance_work"

OUTPUTS = (
    SAVE,
    picture_of("tolerance_picture:tolerance_picture", "spread and shares"),
    JSON,
    csv_of("tolerance:spreads_table", "the spread of every number"),
)


def add_parser(commands: Commands[argparse.ArgumentParser]) -> None:
    parser = command(commands, "tolerance", DESCRIPTION, EPILOG)
    parser.add_argument(
        "--samples", metavar="N", type=count(), help="bars to answer about (default a million; 2048 with --exact)"
    )
    parser.add_argument("--exact", action="store_true", help="make, solve and judge every one of them")
    parser.add_argument("--seed", metavar="N", type=count(), default=1, help="another seed, other bars (default 1)")
    add_choice(parser)
    add_workers(parser)
    add_outputs(parser, OUTPUTS)


def run(args: argparse.Namespace) -> int:
    """Study, write and print. Returns 0; raises InputError where the input is wrong."""
    from barfem.model.read import read_bar
    from barfem.study.sampling import FEWEST_SOLVED, ROWS_A_CHUNK
    from barfem.study.workers import start_early

    path = bar_path(args.bar)
    bar = read_bar(path)
    bars = FEWEST_SOLVED if args.samples is None else args.samples
    start_early(WORK, chunks=bars // ROWS_A_CHUNK, workers=args.workers, cluster=args.cluster)
    from barfem.show.tolerance import print_tolerance
    from barfem.show.tolerance_progress import kept_in
    from barfem.study.tolerance import tolerance

    out = Outputs(args, OUTPUTS, inputs=[path])
    save = out.path("save")
    with kept_in(save) as progress:
        found = tolerance(
            bar,
            samples=args.samples,
            exact=args.exact,
            seed=args.seed,
            holes=args.hole,
            case=args.case,
            workers=args.workers,
            cluster=args.cluster,
            save=save,
            progress=progress,
            taken_up=progress.taken_up,
        )
    out.write(found, then=lambda: print_tolerance(found))
    return 0
