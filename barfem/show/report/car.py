"""The section of the report that only a bar with its car has: what it does there, and which holes."""

from __future__ import annotations

from dataclasses import replace

from barfem.car.balance_result import BalanceResult
from barfem.car.result import CarResult
from barfem.show.car.balance import pair_name, pairs_table, steps_table
from barfem.show.car.balance_map import balance_map
from barfem.show.car.tables import lessons, result_tables
from barfem.show.car.words import CONVENTION_LINE, holes_words
from barfem.show.report.html_table import all_prose, prose
from barfem.show.report.sections import Section, drawn
from barfem.show.tables import Table

__all__ = ["car_section"]


def car_section(found: CarResult, pairs: BalanceResult) -> Section:
    """The car's states, stiffness and limits at the holes fitted, the pairs of holes and their map."""
    start = pairs.start.number
    advised = "no pair can be advised to start from" if start is None else (
        f"start from {pair_name(pairs.pairs[start])} (front | rear)"
    )  # fmt: skip
    missed = [f"Not met: {text}." for text in found.why]
    return Section(
        "car",
        "In the car",
        paragraphs=[
            prose(f"{found.car.name}, holes: {holes_words(found.holes)}. Conventions: {CONVENTION_LINE}."),
        ],
        headline=prose(f"In the car ({found.car.name}): {advised}."),
        points=all_prose((*missed, *lessons(found), *pairs.start.reasons)),
        pictures=[drawn(balance_map(pairs))],
        tables=[*result_tables(found), _titled(pairs), steps_table(pairs)],
        points_after=all_prose((*found.warnings, *found.assumptions)),
        points_title="Warnings and assumptions of the car",
    )


def _titled(pairs: BalanceResult) -> Table:
    return replace(pairs_table(pairs), title=f"Pairs of holes in {pairs.at.name}, nearest to the share aimed at first")
