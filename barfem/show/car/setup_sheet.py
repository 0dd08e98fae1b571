"""The set-up sheet: one A4 page for the buyer of a kit. No stress, no life, no drawing numbers."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from barfem.car.balance_result import BalanceResult
from barfem.car.car import AXLES, WHEELS, Car
from barfem.car.links import LinksResult
from barfem.car.setup import HoleLine, SetUp
from barfem.model.frozen import frozen
from barfem.show.car.links import zeroing_words
from barfem.show.car.words import bar_holes
from barfem.show.numbers import significant
from barfem.version import __version__

__all__ = ["setup_sheet"]

HERE = Path(__file__).parent


@frozen
class _Line:
    hole: str
    stiffness: str
    percent: str
    fitted: bool
    start: bool
    excluded: bool


def setup_sheet(found: SetUp) -> str:
    """The sheet as HTML that needs nothing else; all text of the car file is escaped."""
    environment = Environment(
        loader=FileSystemLoader(HERE), autoescape=True, undefined=StrictUndefined, trim_blocks=True, lstrip_blocks=True
    )
    start = found.balance.start.number
    chosen = None if start is None else found.balance.pairs[start]
    pairs = (None, None) if chosen is None else (chosen.front, chosen.rear)
    axles = [
        {
            "name": f"{axle.capitalize()} bar",
            "lines": _lines(found.holes[axle], found.balance, i, pairs[i]),
            "unequal": _unequal(found.balance.fitted[i]),
            "mounted": None if bar is None or bar.mounted_on == "body" else "sits on the axle, its links on the body",
        }
        for i, (axle, bar) in enumerate(zip(AXLES, (found.car.front.bar, found.car.rear.bar), strict=True))
    ]
    return environment.get_template("setup_sheet.html.j2").render(
        title=f"{found.car.name}: set-up sheet",
        name=found.car.name,
        axles=axles,
        start=None if chosen is None else f"front {bar_holes(chosen.front)}, rear {bar_holes(chosen.rear)}",
        reasons=_reasons(found.balance),
        steps=_steps(found),
        zeroing=zeroing_words(found.links),
        threads=_threads(found.links),
        holds=_holds(found.car, found.balance),
        version=__version__,
    )


def _lines(lines: Sequence[HoleLine], balance: BalanceResult, axle: int, start: tuple[str, str] | None) -> list[_Line]:
    excluded = _excluded(balance, axle)
    return [
        _Line(
            bar_holes(line.holes),
            f"{line.roll_stiffness_Nm_per_deg:.0f}",
            f"{line.percent_of_softest:.0f}",
            line.holes == balance.fitted[axle],
            line.holes == start,
            line.holes in excluded,
        )
        for line in lines
    ]


def _excluded(balance: BalanceResult, axle: int) -> set[tuple[str, str]]:
    """The holes in which the bar itself fails whatever the other axle has: its maker excludes them."""
    fails: dict[tuple[str, str], bool] = {}
    for pair in balance.pairs:
        holes = (pair.front, pair.rear)[axle]
        if holes is not None:
            own = any(text.startswith(f"the {AXLES[axle]} bar") for text in pair.why)
            fails[holes] = fails.get(holes, True) and own
    return {holes for holes, fail in fails.items() if fail}


def _step_is_excluded(found: SetUp, axle: int, holes: tuple[str, str] | None) -> bool:
    names = [line.holes for line in found.holes[AXLES[axle]]]
    after = names[names.index(holes) + 1 :] if holes in names else []
    return bool(after) and after[0] in _excluded(found.balance, axle)


def _unequal(fitted: tuple[str, str] | None) -> str | None:
    """The holes that are fitted, where no line of equal ones is theirs."""
    return None if fitted is None or fitted[0] == fitted[1] else f"{fitted[0]} left, {fitted[1]} right"


def _reasons(balance: BalanceResult) -> list[str]:
    """Why this pair: what the buyer has to know of it, without stress and life."""
    return [text.replace("; 0 pairs set aside", "") for text in balance.start.reasons[1:] if "Stickier" not in text]


def _steps(found: SetUp) -> list[str]:
    """What one hole does, from the start pair, where the bar may go there."""
    balance = found.balance
    start = balance.start.number
    if start is None:
        return []
    pair, out = balance.pairs[start], []
    for i, axle in enumerate(AXLES):
        if _step_is_excluded(found, i, (pair.front, pair.rear)[i]):
            continue
        share = getattr(pair, f"step_{axle}_share_points")
        roll = getattr(pair, f"step_{axle}_roll_deg_per_g")
        if share is not None and roll is not None:
            sense = (
                "pushes more (the front gives up sooner)" if share > 0.0 else "turns more (the rear gives up sooner)"
            )
            out.append(
                f"{axle.capitalize()} one hole stiffer: {sense}, {share:+z.1f} points of front share; rolls "
                f"{significant(abs(roll), 2)} deg/g {'less' if roll < 0.0 else 'more'}."
            )
    return out


def _threads(links: LinksResult) -> list[str]:
    return [
        f"{axle}: one turn is {each.mm_per_turn:g} mm of link"
        for axle, each in links.axles.items()
        if each is not None and each.mm_per_turn is not None
    ]


def _holds(car: Car, balance: BalanceResult) -> list[str]:
    masses = ", ".join(
        f"{name.replace('_', ' ')} {mass:.0f} kg" for name, mass in zip(WHEELS, car.corner_masses_kg, strict=True)
    )
    grip = "grip not given"
    if car.tyres is not None and car.tyres[0].grip is not None:
        tyre = car.tyres[0]
        grip = f"grip {tyre.grip:g} at {tyre.load_N:.0f} N a tyre"
        if car.tyres[1].grip != tyre.grip and car.tyres[1].grip is not None:
            grip += f" in front, {car.tyres[1].grip:g} at the rear"
    driven = "drive not given" if car.drive is None else f"{car.drive.driven} drive"
    return [
        f"Masses with driver: {masses}; in all {car.total_mass_kg:.0f} kg, centre of gravity {car.cg_height_mm:.0f} mm "
        "above the road.",
        f"Tyres: {grip}. {driven.capitalize()}.",
        f"Judged in {balance.at.name}: {balance.at.a_y_g:.4g} g to the side, {balance.at.a_x_g:.4g} g along.",
    ]
