"""What `barfem car` prints: states, stiffness, limits, and what was assumed."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

from rich.console import Console

from barfem.car.car import AXLES, WHEELS
from barfem.car.result import CarResult
from barfem.model.grouped import counted
from barfem.show.car.words import CAUTION, holes_words, print_head
from barfem.show.console import BAD, GOOD
from barfem.show.numbers import NONE, significant, whole
from barfem.show.parts import bullets, listed, paragraph, printing, titled_table, warned_and_assumed
from barfem.show.tables import Cell, Table, column, judged, paths, table, words

__all__ = ["bars_table", "camber_table", "print_car", "result_tables", "states_table", "stiffness_table"]

SHORT = {"front_left": "FL", "front_right": "FR", "rear_left": "RL", "rear_right": "RR"}
Row = dict[str, Any]


@printing
def print_car(console: Console, found: CarResult, *, full: bool = False) -> None:
    """Print the car; `full` with every table and assumption."""
    car = found.car
    print_head(console, car)
    paragraph(console, f"Holes: {holes_words(found.holes)}.")
    for made in result_tables(found, full=full):
        titled_table(console, made)
    listed(console, "What to see in it", lessons(found))
    warned_and_assumed(console, found, assumed=full)
    if not full:
        console.print()
        more = ", ".join(["camber", *(["understeer"] if _steers(found) else [])])
        paragraph(console, f"{counted(len(found.assumptions), 'assumption')}, {more}: --full.")
    console.print()
    paragraph(console, f"VERDICT: {verdict(found)}", style=GOOD if found.passes else BAD)
    bullets(console, found.why)
    paragraph(console, CAUTION)


def verdict(found: CarResult) -> str:
    """Whether every state stands and every target is met; and which states the tyres cannot hold."""
    if not found.passes:
        return "not met:"
    held = "every state has its equilibrium, and the targets that are given are met"
    slides = {row["name"]: max(row["grip_used_front"] or 0.0, row["grip_used_rear"] or 0.0) for row in _rows(found)}
    beyond = ", ".join(f"{name} ({used:.2f} times)" for name, used in slides.items() if used > 1.0)
    return f"{held}; but more grip than the tyres have is asked for in {beyond}." if beyond else f"{held}."


def result_tables(found: CarResult, *, full: bool = True) -> list[Table]:
    """The tables of a car: states, bars and links, stiffness; with `full` camber, and understeer where it is known."""
    made = [states_table(found), bars_table(found), stiffness_table(found)]
    if full:
        made.append(camber_table(found))
    return [*made, understeer_table(found)] if full and _steers(found) else made


def _steers(found: CarResult) -> bool:
    """Whether anything is known of understeer: not without the tyres' cornering stiffness."""
    return any(row.understeer_angle_deg is not None for row in found.understeer)


def _rows(found: CarResult) -> list[Row]:
    return [found.state(i) for i in range(len(found.names))]


def states_table(found: CarResult) -> Table:
    """A state a row: what the car does; files hold all of its numbers."""

    def load(name: str) -> Callable[[Row], Cell]:
        def get(row: Row) -> Cell:
            value = row["wheel_loads_N"][name]
            if value is None:
                return Cell(NONE)
            return Cell("lifts" if value <= 0.0 else whole(value), value, "bad" if value <= 0.0 else "")

        return get

    return table(
        "states",
        "States: roll, wheel loads N, front share of the load transfer, grip used",
        _rows(found),
        [
            words("State", "name", key="state"),
            column("a_y", "g", "a_y_g", show="{:z.4g}".format),
            column("a_x", "g", "a_x_g", show="{:z.4g}".format),
            column("Roll", "deg", "roll_deg", show="{:z.2f}".format),
            *(column(SHORT[name], "N", load(name), key=f"load_{name}_N") for name in WHEELS),
            column("Front\nshare", "", "front_transfer_share", show="{:z.3f}".format),
            column("Grip\nfront", "", "grip_used_front", show="{:z.2f}".format, optional=True),
            column("Grip\nrear", "", "grip_used_rear", show="{:z.2f}".format, optional=True),
            *paths("pitch_deg", "transfer_front_N", "transfer_rear_N", "front_transfer_moment_share",
                   "cross_weight", "left_share", "slip_front_deg", "slip_rear_deg", "drive_limit_g", "reason"),
            *paths(*(f"{key}.{name}" for key in ("suspension_travel_mm", "tyre_deflection_mm",
                     "bar_end_displacement_mm", "link_forces_N", "bar_force_at_wheel_N", "camber_to_road_deg")
                     for name in WHEELS)),
            *paths(*(f"{axle}_bar.{key}" for axle in AXLES for key in ("peak_von_mises_MPa", "where", "yield_margin"))),
        ],
    )  # fmt: skip


def bars_table(found: CarResult) -> Table:
    """A state a row: what the bars and their links do."""

    def margin(axle: str) -> Callable[[Row], Cell]:
        bar = getattr(found.car, axle).bar
        target = None if bar is None or bar.bar is None else bar.bar.targets.yield_margin

        def cell(row: Row) -> Cell:
            value = row[f"{axle}_bar"]["yield_margin"]
            return Cell("> 99", value) if value is not None and value > 99.0 else judged(value, target)

        return cell

    columns = [words("State", "name", key="state")]
    for axle, short in zip(AXLES, ("F", "R"), strict=True):
        if found.holes[axle] is None:
            continue
        for side in ("left", "right"):
            columns.append(column(f"Link\n{short}{side[0].upper()}", "N", f"link_forces_N.{axle}_{side}", show=whole))
        columns.append(
            column(f"Twist\n{axle}", "mm", lambda row, axle=axle: _twist(row, axle), show="{:z.1f}".format)  # type: ignore[misc]
        )
        columns.append(column(f"Stress\n{axle}", "MPa", f"{axle}_bar.peak_von_mises_MPa", show=whole, optional=True))
        columns.append(column(f"Margin\n{axle}", "", margin(axle), optional=True))
    return table(
        "bars",
        "Bars: link forces (tension > 0), twist left less right end, stress and yield margin",
        _rows(found),
        columns,
        *_places(found),
    )


def _twist(row: Row, axle: str) -> float | None:
    left, right = (row["bar_end_displacement_mm"][f"{axle}_{side}"] for side in ("left", "right"))
    return None if left is None or right is None else left - right


def _places(found: CarResult) -> list[str]:
    """Where each bar's greatest stress over the states is."""
    out = []
    for axle, stress in zip(AXLES, found.stress, strict=True):
        if stress is not None and found.states.found.any():
            peaks = [value if there else -1.0 for value, there in
                     zip(stress.peak_von_mises_MPa.tolist(), found.states.found, strict=True)]  # fmt: skip
            worst = max(range(len(peaks)), key=peaks.__getitem__)
            out.append(f"Greatest stress of the {axle} bar: {stress.where[worst]}, in {found.names[worst]}.")
    return out


def stiffness_table(found: CarResult) -> Table:
    """An axle a row: rates and roll stiffness at the wheels."""
    rows = list(zip(AXLES, found.stiffness, strict=True))
    return table(
        "stiffness",
        "Stiffness at rest: rates at the wheel N/mm, roll stiffness about the road N m/deg",
        rows,
        [
            words("Axle", lambda row: row[0]),
            column("Spring", "N/mm", lambda row: row[1].wheel_rate_spring_N_per_mm),
            column("With\ntyre", "N/mm", lambda row: row[1].ride_rate_N_per_mm),
            column("Bar at\nwheels", "N/mm", lambda row: row[1].bar_roll_rate_at_wheel_N_per_mm),
            column("Roll:\nsprings", "N m/deg", lambda row: row[1].springs_Nm_per_deg, show=whole),
            column("bar", "N m/deg", lambda row: row[1].bar_Nm_per_deg, show=whole),
            column("both", "N m/deg", lambda row: row[1].suspension_Nm_per_deg, show=whole),
            column("with\ntyres", "N m/deg", lambda row: row[1].with_tyres_Nm_per_deg, show=whole),
            column(
                "Bar's\nshare",
                "%",
                lambda row: 100.0 * row[1].bar_Nm_per_deg / row[1].suspension_Nm_per_deg,
                show="{:z.0f}".format,
            ),
        ],
    )


def camber_table(found: CarResult) -> Table:
    """Camber to the road, top outward > 0."""
    return table(
        "camber",
        "Camber to the road, deg (top outward > 0), and suspension travel, mm (bump > 0)",
        _rows(found),
        [
            words("State", "name", key="state"),
            *(
                column(f"Camber\n{SHORT[name]}", "deg", f"camber_to_road_deg.{name}", show="{:z.2f}".format)
                for name in WHEELS
            ),
            *(
                column(f"Travel\n{SHORT[name]}", "mm", f"suspension_travel_mm.{name}", show="{:z.1f}".format)
                for name in WHEELS
            ),
        ],
    )


def understeer_table(found: CarResult) -> Table:
    """Understeer angle and its slope over lateral acceleration at a_x = 0."""
    return table(
        "understeer",
        "Understeer (front slip less rear) at a_x = 0: differences between holes are its use, not its level",
        found.understeer,
        [
            column("a_y", "g", "a_y_g", show="{:g}".format),
            column("Angle", "deg", "understeer_angle_deg", show="{:z.3f}".format),
            column("Gradient", "deg/g", "understeer_gradient_deg_per_g", show="{:z.3f}".format),
        ],
    )


def lessons(found: CarResult) -> list[str]:
    """Sentences that are true of this car."""
    lines = []
    hand = found.by_hand_deg_per_g
    parts = [
        f"{name} {'-' if value is None else significant(value)}"
        for name, value in (
            ("whole model", found.whole_deg_per_g),
            ("by hand with tyres in series", hand["tyres_in_series"]),
            ("by hand with rigid tyres", hand["rigid_tyres"]),
        )
    ]
    lines.append(f"Roll gradient at rest, deg/g: {', '.join(parts)}.")
    for limits, turn in ((found.limits, "left"), (found.right_limits, "right")):
        if limits.lift_a_y_g is not None and limits.first_wheel is not None:
            over = limits.no_equilibrium_a_y_g
            lines.append(
                f"In a {turn} turn at a_x = 0 the {limits.first_wheel.replace('_', ' ')} wheel lifts first, at a_y "
                f"{limits.lift_a_y_g:.2f} g" + (f"; no equilibrium is left from {over:.2f} g on." if over else ".")
            )
    for row in _rows(found):
        for key, text in (("stops", "touches"), ("lifted", "is lifted")):
            if row[key]:
                names = ", ".join(name.replace("_", " ") for name in row[key])
                lines.append(f"{row['name']}: {names} {'stop touched' if key == 'stops' else text}.")
        limit = row["drive_limit_g"]
        if limit is not None and math.isfinite(limit) and row["a_x_g"] > 0.0:
            word = "enough for" if limit >= row["a_x_g"] else "NOT enough for"
            lines.append(f"{row['name']}: traction to a_x {limit:.2f} g, {word} the {row['a_x_g']:g} g asked for.")
    rest = next((row for row in _rows(found) if row["a_y_g"] == 0.0 and row["a_x_g"] == 0.0), None)
    if rest is not None and math.isfinite(rest["cross_weight"]):
        forces = [abs(value) for value in rest["link_forces_N"].values()]
        more = f"; preload of up to {max(forces):.0f} N in the links (barfem links)" if max(forces) >= 1.0 else ""
        lines.append(
            f"At rest the cross-weight is {rest['cross_weight']:.4f}, {found.car.cross_weight:.4f} as weighed{more}."
        )
    return lines
