"""Answers into the text of a bar file: a commented starter that its owner goes on with."""

from __future__ import annotations

import math
from importlib.resources import files
from string import Template
from typing import Any

from barfem.cli.new_answers import MOUNT_LENGTH, in_mm
from barfem.cli.new_shape import Line, shape_text

__all__ = ["bar_file"]

REMARK = "# not from the drawing"
OWN_DEFAULTS = frozenset({"splay", "rise", "bent", "cycles"})
"""Answers that barfem takes as well where the bar file leaves their key out."""

COLUMN = 33
"""Where remarks begin, as in the demo bars."""


def bar_file(answers: dict[str, Any], defaults: frozenset[str], *, file: str) -> str:
    """The bar file of complete answers; what is among `defaults` is marked as not from the drawing."""

    def line(key: str, value: object, answer: str, remark: str = "") -> str:
        note = "" if answer not in defaults else "default" if answer in OWN_DEFAULTS else "not from the drawing"
        return _noted(f"{key} = {_toml(value)}", "; ".join(filter(None, (remark, note))))

    section = answers["section"]
    tube = "wall" in section
    body = [line("shape", "tube" if tube else "round", "", "or tube, with its wall" if not tube else "")]
    body.append(line("diameter", section["diameter"], "section", "outside"))
    if tube:
        body.append(line("wall", section["wall"], "section"))
    leaves = "which leaves tension inside a bend"
    after = answers["bent"] == "after-hardening"
    other = f"{leaves}; or before-hardening" if after else f"or after-hardening, {leaves}"
    bent = line("bent", answers["bent"], "bent", other)
    if not tube and "bent" in defaults:
        bent = f"# {bent}".replace("  #", "#", 1)
    template = Template(files("barfem.cli").joinpath("new_bar.toml").read_text(encoding="utf-8"))
    text = template.substitute(
        name=_one_line(answers["name"]),
        file="".join(each if each.isprintable() else "?" for each in file),  # a comment holds no line break
        quoted_name=_toml(answers["name"]),
        **{key: line(key, answers[key], key) for key in ("grade", "condition", "surface")},
        peening=""
        if "peened" in str(answers["surface"])
        else '# peening = "shot"               # on top of the surface, after hardening; left out: not peened\n',
        bent=bent,
        section="\n".join(body),
        shape=shape_text(answers, line),
        holes=_holes(answers, defaults),
        flat=_flat(answers, tube)
        if answers["flat"]
        else "# Round to the tip. A forged or pressed end: see geometries/README.md.\n",
        mounts=_mounts(answers, line),
        link_length=line("length", answers["link_length"], "link_length"),
        travel=_travel(answers, line),
        cycles=line("target_cycles", answers["cycles"], "cycles", "of full travel"),
    )
    return "\n".join(row.rstrip() for row in text.split("\n"))


def _noted(text: str, comment: str) -> str:
    return f"{text:{COLUMN - 1}} # {comment}" if comment else text


def _holes(answers: dict[str, Any], defaults: frozenset[str]) -> str:
    rows = [
        f'  {{ name = "{number}", from_tip = {_toml(place)}, diameter = {_toml(answers["hole_diameter"])} }},'
        for number, place in enumerate(answers["holes"], start=1)
    ]
    if {"holes", "hole_diameter"} & defaults:
        what = " and ".join(
            word for key, word in (("holes", "places"), ("hole_diameter", "diameters")) if key in defaults
        )
        rows.insert(0, f"  {REMARK}: {what}")
    return "\n".join(rows)


def _flat(answers: dict[str, Any], tube: bool) -> str:
    """A flat with the steel that there is: forged with the area of the round, pressed as a flattened tube is wide."""
    diameter = in_mm(answers["section"]["diameter"])
    if tube:
        wall = in_mm(answers["section"]["wall"])
        thickness, width = 2.0 * wall, 0.5 * math.pi * (diameter - wall) + wall
    else:
        thickness, width = 0.5 * diameter, 0.5 * math.pi * diameter
    transition = 5.0 * math.ceil(diameter / 5.0)
    last = max(in_mm(place) for place in answers["holes"])
    length = 5.0 * math.ceil((last + 1.5 * in_mm(answers["hole_diameter"]) + transition) / 5.0)
    kind = "pressed" if tube else "forged"
    comment = "two walls; pressed from the tube" if tube else "along the hole"
    return (
        f"\n[ends.flat]                      {REMARK}: made from the section\n"
        f'kind = "{kind}"\n'
        f"{_noted(f'thickness = {_toml(round(thickness, 1))}', comment)}\n"
        f"width = {_toml(round(width, 1))}\n"
        f"{_noted(f'length = {_toml(length)}', 'from the cut end, with the transition')}\n"
        f"transition = {_toml(transition)}\n"
        f"{_noted('normal = [0, 1, 0]', 'the hole axis')}\n"
    )


def _travel(answers: dict[str, Any], line: Line) -> str:
    if answers["motion_ratio"] is None:
        return line("pickup", answers["travel"], "travel", "up and down; or wheel and motion_ratio")
    ratio = line("motion_ratio", answers["motion_ratio"], "motion_ratio", "pickup travel / wheel travel")
    return line("wheel", answers["travel"], "travel", "up and down") + "\n" + ratio


def _mounts(answers: dict[str, Any], line: Line) -> str:
    place = answers["mounts"]
    # A sketch has them across the car: half the developed length of unequal arms is not midway between the cut ends,
    # and along a crank's ramps the bar is longer than across.
    across = any(answers[key] is not None for key in ("left_arm", "rows", "crank"))
    key, comment = ("y", "across the car") if across else ("from_middle", "along the bar")
    return "\n".join(
        f"{_noted('[[mounts]]', f'{side} bushing')}\n"
        f"{line(key, value, 'mounts', f'{comment}, + to the left')}\n"
        f"{line('radial_stiffness', answers['mount_stiffness'], 'mount_stiffness', 'N/mm, across the bar')}\n"
        f"{_noted('axial_stiffness = 200.0', 'N/mm, along it; not from the drawing')}\n"
        f"{_noted(f'length = {MOUNT_LENGTH}', 'of rubber along the bar; not from the drawing')}\n"
        for value, side in ((f"-{place}" if isinstance(place, str) else -place, "right"), (place, "left"))
    )


def _toml(value: object) -> str:
    import tomlkit

    if isinstance(value, float):
        return f"{value:.10g}" if not value.is_integer() or abs(value) >= 1e5 else f"{value:.1f}"
    return str(tomlkit.item(value).as_string())


def _one_line(text: str) -> str:
    return " ".join(text.split())
