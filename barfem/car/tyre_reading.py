"""[tyres] of a car file: grip and cornering stiffness as lines over load, held against the loads of this car."""

from __future__ import annotations

from typing import Any

from barfem.car.car import AXLES, GRAVITY, Tyre
from barfem.car.schema import TyresTable
from barfem.model.errors import InputError
from barfem.model.notes import Notes

__all__ = ["read_tyres"]

_C1_PER_RAD = (3.0, 100.0)  # tyres have about 8 to 30; per degree it would be a sixtieth


def read_tyres(
    table: TyresTable | None, masses_kg: tuple[float, float, float, float], notes: Notes
) -> tuple[Tyre, Tyre] | None:
    """The tyres of both axles; `masses_kg` of the four corners as weighed, left before right, front before rear.

    Raises
    ------
    InputError
        Grip without its load, or a line that leaves a tyre no grip or no cornering stiffness under the car as weighed.
    """
    if table is None:
        notes.assume("[tyres] are not given: no grip used, no slip, no understeer.")
        return None
    tyres = []
    for name, left, right in zip(AXLES, masses_kg[0::2], masses_kg[1::2], strict=True):
        own = getattr(table, name)
        given = {**_given(table), **({} if own is None else _given(own))}
        if ("grip" in given) != ("load" in given):
            missing = "load" if "grip" in given else "grip"
            raise InputError(
                f"{missing} is missing.",
                where=f"[tyres] {missing}",
                expected="grip = 1.15 (side force / load) and load = 3000.0 (N at which it was measured).",
            )
        loss = given.get("grip_loss")
        if loss is None and "grip" in given:
            loss = 0.0
            notes.assume(f"[tyres] grip_loss is not given ({name}): grip does not fall with load.")
        line = given.get("cornering_stiffness")
        tyre = Tyre(
            given.get("grip"),
            given.get("load"),
            loss or 0.0,
            None if line is None else line.c1,
            0.0 if line is None else line.c2,
        )
        _holds(tyre, name, max(left, right) * GRAVITY, (left + right) * GRAVITY, notes)
        tyres.append(tyre)
    return tyres[0], tyres[1]


def _given(table: Any) -> dict[str, Any]:
    return {key: value for key, value in table.given().items() if key not in AXLES and value is not None}


def _holds(tyre: Tyre, axle: str, wheel_N: float, axle_N: float, notes: Notes) -> None:
    """Both lines fall to nothing at some load: refused below the car's own as weighed, told below an axle's."""
    c1, c2 = tyre.c1_per_rad, tyre.c2_per_N_rad
    if c1 is not None and not _C1_PER_RAD[0] <= c1 <= _C1_PER_RAD[1]:
        notes.look_twice(
            f"[tyres] cornering_stiffness, c1 = {c1:g} 1/rad ({axle}) is far from any tyre's 8 to 30: is it per "
            "degree, or in N/rad?"
        )
    lines = []
    if c1 is not None and c2 > 0.0:
        words = f"c1 F - c2 F^2 with c1 = {c1:g} 1/rad and c2 = {c2:g} 1/(N rad)"
        lines.append(
            ("cornering_stiffness, c2", words, c1 / c2, f"c2 below {c1 / wheel_N:.2g} 1/(N rad), such as {{}}.")
        )
    if tyre.load_N is not None and tyre.grip_loss > 0.0:
        words = f"grip (1 - {tyre.grip_loss:g} (F / {tyre.load_N:g} N - 1))"
        most = tyre.load_N * (1.0 + 1.0 / tyre.grip_loss)
        lines.append(
            ("grip_loss", words, most, "the loss of grip at twice the load (N), such as 0.08 for 8 %, and load.")
        )
    for key, words, nothing_N, expected in lines:
        if nothing_N <= wheel_N:
            raise InputError(
                f"{words} is nothing from {nothing_N:.0f} N on, and a {axle} wheel bears {wheel_N:.0f} N as weighed.",
                where=f"[tyres] {key}",
                expected=expected.format(f"{0.2 * (c1 or 0.0) / wheel_N:.2g}"),
            )
        if nothing_N <= axle_N:
            notes.warn(
                f"[tyres] {key}: {words} is nothing from {nothing_N:.0f} N on, and a {axle} wheel may come to bear "
                f"{axle_N:.0f} N: no slip or grip is to be had of it there."
            )
