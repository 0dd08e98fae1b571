"""`barfem tolerance BAR.toml`: how far bars of one drawing differ."""

from __future__ import annotations

import argparse
import sys

from barfem.cli.bar_file import bar_path
from barfem.cli.study import add_save, add_workers, save_target, whole_number
from barfem.model.load_case import CASES

__all__ = ["add_parser", "run"]

DESCRIPTION = """\
Makes many bars that differ from the drawing within its bands, solves and judges
each, and says how far rate, stress, yield margin and life spread at every hole,
which bands that comes from, how many bars miss their rate or their life, and
how left and right differ.
"""

EPILOG = """\
examples
  barfem tolerance BAR.toml
  barfem tolerance BAR.toml --samples 10000 --hole 2 --workers 2 --save B.jsonl
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


def add_parser(subparsers: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    parser = subparsers.add_parser(
        "tolerance",
        help="how far bars of one drawing differ, what from, and how many miss",
        description=DESCRIPTION,
        epilog=EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        allow_abbrev=False,
    )
    parser.add_argument("bar", metavar="BAR.toml", help="the bar file")
    parser.add_argument("--samples", metavar="N", type=whole_number, help="bars to make (default 2048)")
    parser.add_argument(
        "--seed", metavar="N", type=whole_number, default=1, help="another seed, other bars (default 1)"
    )
    parser.add_argument("--hole", metavar="NAME", action="append", help="this hole alone; repeatable")
    parser.add_argument("--case", choices=tuple(CASES), help="this load case alone")
    add_save(parser)
    add_workers(parser)
    parser.add_argument("--plot", metavar="FILE", help="picture of spread and shares (.png or .svg)")
    parser.add_argument("--json", metavar="FILE", help="write everything as JSON; - is standard output alone")


def run(args: argparse.Namespace) -> int:
    """Study, write and print. Returns 0; raises InputError where the input is wrong."""
    from barfem.cli.study import json_target, one_file_each, plot_target, write_json, write_plot
    from barfem.model.read import read_bar
    from barfem.show.tolerance_progress import StudyProgress
    from barfem.study.tolerance import SAMPLES, tolerance

    path = bar_path(args.bar)
    bar = read_bar(path)
    target = json_target(args.json, inputs=[path])
    picture = plot_target(args.plot, inputs=[path])
    save = save_target(args.save, inputs=[path])
    one_file_each(json=target, plot=picture, save=save)
    with StudyProgress(sys.stderr) as progress:
        try:
            found = tolerance(
                bar,
                samples=SAMPLES if args.samples is None else args.samples,
                seed=args.seed,
                holes=args.hole,
                case=args.case,
                workers=args.workers,
                cluster=args.cluster,
                save=save,
                progress=progress,
                taken_up=progress.taken_up,
            )
        except KeyboardInterrupt:
            progress.say_what_is_kept(save)
            raise
    write_json(args.json, target, found.to_json_dict())
    if picture is not None:
        from barfem.show.tolerance_picture import tolerance_picture

        write_plot(picture, lambda: tolerance_picture(found))
    if args.json != "-":
        from barfem.show.tolerance import print_tolerance

        print_tolerance(found)
    return 0
