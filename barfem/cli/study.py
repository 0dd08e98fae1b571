"""Options that several commands share: hole settings and load case, processes, and how other bars are made."""

from __future__ import annotations

import argparse
from typing import Any

from barfem.cli.values import count
from barfem.model.load_case import CASES

__all__ = [
    "EQUAL",
    "add_bent",
    "add_case",
    "add_choice",
    "add_equal",
    "add_judged",
    "add_workers",
    "equal_of",
]

EQUAL = ("rate", "stress", "mass")


def add_workers(parser: argparse._ActionsContainer, *, cluster: bool = True) -> None:
    """The options of every study that can run on more than one process."""
    parser.add_argument(
        "--workers", metavar="N", type=count(), help="processes on this machine (default: one a core, up to 8)"
    )
    if cluster:
        parser.add_argument(
            "--cluster", metavar="ADDRESS", help="a Dask cluster's scheduler, such as tcp://10.0.0.5:8786"
        )


def add_choice(parser: argparse._ActionsContainer) -> None:
    """Which hole settings and load case a study is of."""
    parser.add_argument("--hole", metavar="NAME", action="append", help="this hole alone; repeatable")
    add_case(parser)


def add_judged(parser: argparse._ActionsContainer) -> None:
    """Which hole settings and load cases of the bar file a whole check judges."""
    parser.add_argument("--mixed", action="store_true", help="add every unequal pair of holes, left and right")
    add_case(parser, "judge this load case alone (default: roll, and the others where the bar file gives their travel)")


def add_case(parser: argparse._ActionsContainer, help: str = "judge this load case alone") -> None:
    parser.add_argument("--case", choices=tuple(CASES), help=help)


def add_equal(parser: argparse._ActionsContainer, whose: str) -> None:
    """What other bars are resized to, of the bar that they are held against, in words."""
    for what in EQUAL:
        parser.add_argument(f"--equal-{what}", action="store_true", help=f"also: each resized to {whose} {what}")


def equal_of(args: argparse.Namespace) -> list[Any]:
    """Those of `EQUAL` that are asked for."""
    return [what for what in EQUAL if getattr(args, f"equal_{what}")]


def add_bent(parser: argparse._ActionsContainer) -> None:
    parser.add_argument(
        "--bent", choices=("before-hardening", "after-hardening"), help="for tubes, where the bar file does not say"
    )
