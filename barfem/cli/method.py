"""How a check is to be made: options that `check` and `explain` share."""

from __future__ import annotations

import argparse

from barfem.strength.fatigue.criteria import CRITERIA, DEFAULT_CRITERION

__all__ = ["add_method"]


def add_method(parser: argparse.ArgumentParser) -> None:
    """Add --model, --mean-stress and --quick."""
    parser.add_argument(
        "--model",
        default="beam",
        metavar="beam|solid",
        help="how the bar is modelled: beam (nonlinear, the default), or solid (swept, three-dimensional, linear)",
    )
    parser.add_argument(
        "--mean-stress",
        choices=tuple(CRITERIA),
        metavar="RULE",
        help=f"mean-stress rule of lives: {', '.join(CRITERIA)} (default {DEFAULT_CRITERION}; the Goodman safety "
        "factor stays Goodman's)",
    )
    parser.add_argument(
        "--quick",
        action="store_true",
        help="bends by closed forms, not by three-dimensional fields (unsafe for bent tubes, and said so)",
    )
