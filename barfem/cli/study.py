"""Options that studies share: which hole settings, on how many processes, and when a tube is bent."""

from __future__ import annotations

import argparse

from barfem.cli.values import count
from barfem.model.load_case import CASES

__all__ = ["add_bent", "add_case", "add_choice", "add_workers"]


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


def add_case(parser: argparse._ActionsContainer, help: str = "judge this load case alone") -> None:
    parser.add_argument("--case", choices=tuple(CASES), help=help)


def add_bent(parser: argparse._ActionsContainer) -> None:
    parser.add_argument(
        "--bent", choices=("before-hardening", "after-hardening"), help="for tubes, where the bar file does not say"
    )
