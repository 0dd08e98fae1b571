"""STEP of the finished bar: ISO 10303-21 text of one closed solid in mm, by ISO 10303-214 (automotive design).

No CAD kernel is needed to write it, and the same bar gives the same bytes: the file carries no time of its own.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.vendor.bar_solid import bar_solid, left_out
from barfem.vendor.maker_tables import drawing_of
from barfem.vendor.solid_faces import Curve, Solid, Surface
from barfem.version import __version__

__all__ = ["step_text"]

Array = NDArray[np.float64]


def step_text(bar: Bar) -> str:
    """The bar as STEP file; what its solid leaves out stands in the product's description."""
    out = _Writer()
    brep = out.solid(bar_solid(bar), bar.name)
    _product(out, bar, brep)
    sheet = drawing_of(bar)
    stamp = f"{sheet.date}T00:00:00" if sheet.date else ""
    header = [
        f"FILE_DESCRIPTION({_list([_text('finished part, no springback; ' + '; '.join(left_out(bar)))])},'2;1');",
        f"FILE_NAME({_text(bar.drawing or bar.name)},{_text(stamp)},({_text(sheet.drawn_by or '')}),"
        f"({_text(sheet.company or '')}),{_text('barfem ' + __version__)},'','');",
        "FILE_SCHEMA(('AUTOMOTIVE_DESIGN { 1 0 10303 214 1 1 1 1 }'));",
    ]
    lines = ["ISO-10303-21;", "HEADER;", *header, "ENDSEC;", "DATA;", *out.lines, "ENDSEC;", "END-ISO-10303-21;", ""]
    return "\n".join(lines)


def _text(value: str) -> str:
    """A string of part 21: quotes doubled, anything beyond ASCII by its code."""
    out = ""
    for letter in value.replace("\\", "\\\\").replace("'", "''"):
        out += letter if " " <= letter <= "~" else f"\\X4\\{ord(letter):08X}\\X0\\"
    return f"'{out}'"


def _number(value: float, places: int = 9) -> str:
    text = f"{value:.{places}f}".rstrip("0")
    return "0." if text in ("-0.", "0.") else text


def _list(values: Sequence[str]) -> str:
    return f"({','.join(values)})"


class _Writer:
    """Lines of the data section, each entity once."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self._known: dict[str, str] = {}

    def add(self, text: str) -> str:
        """Its number; an entity with the same text is the same entity."""
        if text not in self._known:
            self._known[text] = f"#{len(self.lines) + 1}"
            self.lines.append(f"{self._known[text]}={text};")
        return self._known[text]

    def point(self, at: Array) -> str:
        return self.add(f"CARTESIAN_POINT('',{_list([_number(v) for v in at])})")

    def way(self, vector: Array) -> str:
        unit = np.asarray(vector) / np.linalg.norm(vector)
        return self.add(f"DIRECTION('',{_list([_number(v, 15) for v in unit])})")

    def place(self, at: Array, axis: Array, reference: Array) -> str:
        return self.add(f"AXIS2_PLACEMENT_3D('',{self.point(at)},{self.way(axis)},{self.way(reference)})")

    def curve(self, curve: Curve, start: Array, end: Array) -> str:
        if curve.centre is None or curve.axis is None or curve.reference is None:
            span = end - start
            vector = self.add(f"VECTOR('',{self.way(span)},1.)")
            return self.add(f"LINE('',{self.point(start)},{vector})")
        where = self.place(curve.centre, curve.axis, curve.reference)
        return self.add(f"CIRCLE('',{where},{_number(curve.radius)})")

    def surface(self, surface: Surface) -> str:
        if surface.poles is not None:
            net = _list([_list([self.point(pole) for pole in row]) for row in surface.poles])
            half = _number(np.sqrt(0.5), 15)
            weights = f"((1.,1.),({half},{half}),(1.,1.))"
            return self.add(
                f"(BOUNDED_SURFACE()B_SPLINE_SURFACE(2,1,{net},.UNSPECIFIED.,.F.,.F.,.F.)"
                "B_SPLINE_SURFACE_WITH_KNOTS((3,3),(2,2),(0.,1.),(0.,1.),.UNSPECIFIED.)GEOMETRIC_REPRESENTATION_ITEM()"
                f"RATIONAL_B_SPLINE_SURFACE({weights})REPRESENTATION_ITEM('')SURFACE())"
            )
        where = self.place(surface.at, surface.axis, surface.reference)
        if surface.kind == "plane":
            return self.add(f"PLANE('',{where})")
        if surface.kind == "cylinder":
            return self.add(f"CYLINDRICAL_SURFACE('',{where},{_number(surface.radius)})")
        return self.add(f"TOROIDAL_SURFACE('',{where},{_number(surface.major)},{_number(surface.radius)})")

    def solid(self, solid: Solid, name: str) -> str:
        # Vertices and edges are told apart by their place in the solid, not by their text.
        corners = [self.add(f"VERTEX_POINT('',{self.point(at)})") for at in solid.vertices]
        edges = [
            self.add(
                f"EDGE_CURVE('',{corners[a]},{corners[b]},"
                f"{self.curve(curve, solid.vertices[a], solid.vertices[b])},.T.)"
            )
            for curve, a, b in solid.edges
        ]
        faces = []
        for face in solid.faces:
            bounds = []
            for i, loop in enumerate(face.loops):
                walked = [self.add(f"ORIENTED_EDGE('',*,*,{edges[e]},{'.T.' if ok else '.F.'})") for e, ok in loop]
                kind = "FACE_OUTER_BOUND" if i == 0 else "FACE_BOUND"
                made = self.add(f"EDGE_LOOP('',{_list(walked)})")
                bounds.append(self.add(f"{kind}('',{made},.T.)"))
            same = ".T." if face.same else ".F."
            faces.append(self.add(f"ADVANCED_FACE('',{_list(bounds)},{self.surface(face.surface)},{same})"))
        shell = self.add(f"CLOSED_SHELL('',{_list(faces)})")
        return self.add(f"MANIFOLD_SOLID_BREP({_text(name)},{shell})")


def _product(out: _Writer, bar: Bar, brep: str) -> None:
    """Product, units and the representation that holds the solid."""
    context = out.add("APPLICATION_CONTEXT('core data for automotive mechanical design processes')")
    out.add(f"APPLICATION_PROTOCOL_DEFINITION('international standard','automotive_design',2000,{context})")
    number, revision = bar.drawing or bar.name, bar.revision or ""
    frame = out.add(f"PRODUCT_CONTEXT('',{context},'mechanical')")
    description = "finished part, no springback; " + "; ".join(left_out(bar))
    product = out.add(f"PRODUCT({_text(number)},{_text(bar.name)},{_text(description)},({frame}))")
    formation = out.add(f"PRODUCT_DEFINITION_FORMATION({_text(revision)},'',{product})")
    view = out.add(f"PRODUCT_DEFINITION_CONTEXT('part definition',{context},'design')")
    definition = out.add(f"PRODUCT_DEFINITION('design','',{formation},{view})")
    shape = out.add(f"PRODUCT_DEFINITION_SHAPE('','',{definition})")
    length = out.add("(LENGTH_UNIT()NAMED_UNIT(*)SI_UNIT(.MILLI.,.METRE.))")
    angle = out.add("(NAMED_UNIT(*)PLANE_ANGLE_UNIT()SI_UNIT($,.RADIAN.))")
    solid_angle = out.add("(NAMED_UNIT(*)SI_UNIT($,.STERADIAN.)SOLID_ANGLE_UNIT())")
    within = out.add(f"UNCERTAINTY_MEASURE_WITH_UNIT(LENGTH_MEASURE(1.E-6),{length},'distance_accuracy_value','')")
    units = out.add(
        f"(GEOMETRIC_REPRESENTATION_CONTEXT(3)GLOBAL_UNCERTAINTY_ASSIGNED_CONTEXT(({within}))"
        f"GLOBAL_UNIT_ASSIGNED_CONTEXT(({length},{angle},{solid_angle}))REPRESENTATION_CONTEXT('',''))"
    )
    origin = out.place(np.zeros(3), np.array([0.0, 0.0, 1.0]), np.array([1.0, 0.0, 0.0]))
    held = out.add(f"ADVANCED_BREP_SHAPE_REPRESENTATION('',({origin},{brep}),{units})")
    out.add(f"SHAPE_DEFINITION_REPRESENTATION({shape},{held})")
    kind = out.add(f"PRODUCT_RELATED_PRODUCT_CATEGORY('part',$,({product}))")
    del kind
