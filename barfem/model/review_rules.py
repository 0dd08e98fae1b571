"""The rules of the review as data: title, unit, limits for `stop` and `ask`, and the source of each.

A rule is one entry here and one function that measures it (`barfem.vendor`). `[review] limits` of the bar file
overrides limits by key; it is held to the rules here, so that every command that reads the file refuses what is none.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from typing import Any, Literal

from barfem.model.errors import InputError
from barfem.model.frozen import frozen
from barfem.model.nearest import did_you_mean
from barfem.model.units import number

__all__ = ["JOINT_ANGLE_DEG", "PRACTICE", "RULES", "Rule", "Severity", "rules_with"]

_KINDS = {"": "plain", "mm": "length", "deg": "angle", "%": "percent", "N/mm": "force per length", "MPa": "stress"}

JOINT_ANGLE_DEG = 25.0
"""What a link's joint allows each way from rest, where nothing else is given (common practice, no source)."""
Severity = Literal["stop", "ask", "note"]
PRACTICE = "common practice, no source"


@frozen
class Rule:
    """One rule. A value below its limit (`worse` "below"), or above, earns the severity; a limit of None never does.

    Rules of `worse` "given" are yes or no: their function says the severity.
    """

    key: str
    title: str
    unit: str
    stop: float | None
    ask: float | None
    worse: Literal["below", "above", "given"]
    source: str = PRACTICE

    def severity(self, value: float) -> Severity | None:
        for name, limit in (("stop", self.stop), ("ask", self.ask)):
            if limit is None:
                continue
            slack = 1e-9 * max(1.0, abs(limit))
            if value < limit - slack if self.worse == "below" else value > limit + slack:
                return name  # type: ignore[return-value]
        return None


_LIST = (
    Rule("bushing_gap", "bushing to the next arc, flat or transition", "mm", 0.0, 5.0, "below"),
    Rule("straight_over_clamp", "straight between bends over clamp length", "", 0.5, 1.0, "below"),
    Rule("radius_cold_solid", "bend radius over diameter, solid bent cold", "", 1.5, 2.0, "below"),
    Rule("radius_cold_tube", "bend radius over diameter, tube bent cold", "", 2.0, 2.5, "below"),
    Rule("radius_mandrel_tube", "bend radius over diameter, tube on a mandrel", "", 1.5, 2.0, "below"),
    Rule("radius_hot", "bend radius over diameter, bent hot", "", 1.0, 1.5, "below"),
    Rule("fibre_strain", "strain of the outer fibre over elongation", "", 1.0, 0.7, "above",
         "strain D / (2 R) of a bent bar, neutral fibre not shifted; elongation from the material table"),
    Rule("wall_outside", "wall outside a bend over the wall", "", 0.75, 0.8, "below",
         "t R / (R + D / 2), trade formula; limits common practice, no source"),
    Rule("ovality", "ovality of bends", "%", None, 8.0, "above", "8 % of the diameter, pipe bend codes, from memory"),
    Rule("hole_to_end", "hole edge to cut end, in hole diameters", "", 1.0, 1.5, "below"),
    Rule("hole_to_side", "hole edge to the flat's side, in hole diameters", "", 0.75, 1.0, "below"),
    Rule("hole_to_hole", "hole to hole between centres, in hole diameters", "", 1.5, 2.0, "below"),
    Rule("hole_in_flat", "hole edge to the end of the flat's full thickness", "mm", 0.0, None, "below"),
    Rule("flat_in_straight", "straight of the end less its flat", "mm", 0.0, None, "below"),
    Rule("holes_parallel", "hole axes of both ends, angle between", "deg", None, 1.0, "above"),
    Rule("holes_mirrored", "hole axes of both ends, from mirror images", "deg", None, 1.0, "above"),
    Rule("hole_axis", "axis of holes in round ends", "", None, None, "given"),
    Rule("orientation", "fitted the wrong way round", "", None, None, "given", "symmetry of the part, computed"),
    Rule("sideways", "axial stiffness that holds the bar sideways", "N/mm", None, None, "given"),
    Rule("sideways_apart", "stiff sideways stops, distance between", "mm", None, 200.0, "above"),
    Rule("hardness", "yield from the window's low end over the yield asked", "", 1.0, None, "below",
         "ISO 18265 Table A.1 (from memory, sure): an estimate; yield ratio of the steel's own table"),
    Rule("hardness_window", "width of the hardness window", "HRC", None, 6.0, "above"),
    Rule("peening", "peening data", "", None, None, "given"),
    Rule("hydrogen", "tensile strength under a coating that pickles or plates", "MPa", None, 1000.0, "above",
         "ISO 9587 and 9588, from memory, fairly sure: bake after plating"),
    Rule("decarburisation", "limit of decarburisation", "", None, None, "given"),
    Rule("link_angle", "link to arm", "deg", 0.0, 25.0, "below"),
    Rule("joint_angle", "joint angle from rest", "deg", None, JOINT_ANGLE_DEG, "above"),
    Rule("link_clearance", "link to bar", "mm", 0.0, 5.0, "below"),
    Rule("keep_out", "bar to a keep-out body", "mm", 0.0, 8.0, "below", "[keep_out] of the bar file"),
    Rule("stress", "hole setting that does not pass", "", None, None, "given", "barfem check"),
    Rule("drawing", "fields of the drawing", "", None, None, "given", "ISO 7200 for the title block"),
    Rule("tolerances", "tolerances of the drawing", "", None, None, "given"),
)  # fmt: skip
RULES: Mapping[str, Rule] = {rule.key: rule for rule in _LIST}


def rules_with(limits: Mapping[str, Any]) -> Mapping[str, Rule]:
    """The rules with limits of the bar file: a number for the limit that there is, or { stop = ..., ask = ... }.

    Raises
    ------
    InputError
        No such rule, no number, or one below 0.
    """
    out = dict(RULES)
    expanded: dict[str, Any] = {}
    for key, given in limits.items():
        if key == "radius":  # whichever way it is bent
            expanded |= {name: given for name in RULES if name.startswith("radius_")}
        else:
            expanded[key] = given
    for key, given in expanded.items():
        if key not in out:
            raise InputError(
                f'there is no rule "{key}".{did_you_mean(key, list(out))}',
                where="[review] limits",
                expected="one of radius, " + ", ".join(out) + ".",
            )
        rule = out[key]
        if not isinstance(given, Mapping):
            names = [name for name in ("stop", "ask") if getattr(rule, name) is not None]
            given = {names[0] if len(names) == 1 else "ask": given}
        for name, value in given.items():
            limit = _limit(value, rule)
            # Below 0 a least gap or radius would let everything through, and a greatest strain nothing.
            below = rule.worse != "given" and limit is not None and limit < 0.0
            if name not in ("stop", "ask") or limit is None or below or rule.worse == "given":
                usual = ", ".join(f"{each} = {_shown(getattr(rule, each))}" for each in ("stop", "ask"))
                unit = f" in {rule.unit}" if rule.unit else ""
                raise InputError(
                    f"{key}: {name} = {_shown(value)} {'is below 0' if below else 'is no limit'}.",
                    where="[review] limits",
                    expected="no limit: this rule has none."
                    if rule.worse == "given"
                    else f"{key} = {{ {usual} }}, numbers of 0 or more{unit}, or false for none.",
                )
            changed: dict[str, Any] = {name: None if limit is False else limit}
            rule = replace(rule, **changed, source=f"{rule.source}; limit of the bar file")
        out[key] = rule
    return out


def _limit(value: Any, rule: Rule) -> float | Literal[False] | None:
    """A limit in the rule's unit; False where there is to be none, None where `value` is no limit."""
    if value is False:
        return False
    try:
        found = number(value, _KINDS.get(rule.unit, "plain"))
    except InputError:
        return None
    return found if abs(found) < 1e9 else None


def _shown(value: Any) -> str:
    """As a bar file writes it."""
    return "false" if value is None else str(value).lower() if isinstance(value, bool) else repr(value)
