"""A sheet as DXF R2010 for CAD programs: the part 1:1 in model space, the paper with its frame in a layout.

Model space holds the centreline in space, in drawing axes, as lines and arcs; beside it, each in true mm, the groups of
flat views (views, details, isometric) with real DIMENSION entities, which say what they measure. The layout "Sheet" has
frame, title block, tables and notes in mm of paper, and a viewport on each group at its scale.
"""

from __future__ import annotations

import io
from typing import Any

import numpy as np
from numpy.typing import NDArray

from barfem.model.bar import Bar
from barfem.show.drawing.dimension_ink import dimension_text
from barfem.show.drawing.ink import Group, Ink, PaperDimension, Sheet, Stroke, Writing, text_box

__all__ = ["dxf_text"]

Array = NDArray[np.float64]
LAYERS = {
    # name: line type, line weight in 1/100 mm
    "CENTRELINE_3D": ("CENTER", 25),
    "OUTLINE": ("CONTINUOUS", 50),
    "CENTRE": ("CENTER", 25),
    "HIDDEN": ("DASHED", 25),
    "PHANTOM": ("PHANTOM", 25),
    "THIN": ("CONTINUOUS", 25),
    "DIMENSION": ("CONTINUOUS", 25),
    "TEXT": ("CONTINUOUS", 25),
    "FRAME": ("CONTINUOUS", 70),
    "VIEWPORT": ("CONTINUOUS", 25),
}
LINE_TYPES = {
    # in mm of paper, by ISO 128 for lines of 0.25 mm
    "CENTER": [8.0, 6.0, -0.75, 0.5, -0.75],
    "DASHED": [3.75, 3.0, -0.75],
    "PHANTOM": [6.75, 4.0, -0.625, 0.5, -0.625, 0.5, -0.5],
}
APART = 1000.0
CODES = {"\u2300": "%%c", "±": "%%p", "°": "%%d"}


def dxf_text(sheet: Sheet, bar: Bar) -> str:
    """The DXF file; the same bytes for the same sheet, as it carries no time."""
    import ezdxf

    fixed = ezdxf.options.write_fixed_meta_data_for_testing
    ezdxf.options.write_fixed_meta_data_for_testing = True
    try:
        doc = ezdxf.new("R2010", units=4)
        _prepare(doc)
        _centreline(doc.modelspace(), bar)
        places = _model_places(sheet, bar)
        for group, place in places.items():
            _group(doc, sheet, group, place)
        _paper(doc, sheet, places)
        # Left to itself the library lists classes in the order of a set, another in every process.
        for kind in sorted(doc.entitydb.dxf_types_in_use()):
            doc.classes.add_class(kind)
        out = io.StringIO()
        doc.write(out)
        return out.getvalue()
    finally:
        ezdxf.options.write_fixed_meta_data_for_testing = fixed


def _prepare(doc: Any) -> None:
    doc.header["$INSUNITS"] = 4
    doc.header["$MEASUREMENT"] = 1
    doc.header["$LTSCALE"] = 1.0
    for name, pattern in LINE_TYPES.items():
        if name not in doc.linetypes:
            doc.linetypes.add(name, pattern)
    for name, (kind, weight) in LAYERS.items():
        layer = doc.layers.add(name, linetype=kind, lineweight=weight)
        if name == "VIEWPORT":
            layer.dxf.plot = 0
    doc.styles.get("Standard").dxf.font = "arial.ttf"


def _centreline(space: Any, bar: Bar) -> None:
    """Straights and arcs in drawing axes, each arc in its own plane."""
    where = {"layer": "CENTRELINE_3D"}
    for segment in bar.centreline.segments:
        points, frames = segment.evaluate(np.array([0.0, segment.length_mm]))
        if segment.radius_mm is None:
            space.add_line(tuple(points[0]), tuple(points[1]), dxfattribs=where)
            continue
        from ezdxf.math import OCS

        t, a, b = frames[0]
        inward = np.cos(segment.inward_angle_rad) * a + np.sin(segment.inward_angle_rad) * b
        axis = np.cross(t, inward)
        ocs = OCS(tuple(axis))
        centre = points[0] + segment.radius_mm * inward
        begin = np.array(ocs.from_wcs(tuple(-inward)))
        start = float(np.degrees(np.arctan2(begin[1], begin[0])))
        space.add_arc(
            ocs.from_wcs(tuple(centre)), segment.radius_mm, start, start + float(np.degrees(segment.bend_angle_rad)),
            dxfattribs={**where, "extrusion": tuple(axis)},
        )  # fmt: skip


def _model_places(sheet: Sheet, bar: Bar) -> dict[Group, tuple[Array, Array]]:
    """For each group the corner of its box on paper, and where that corner stands in model space."""
    groups = sorted({s.group for s in sheet.ink.strokes if s.group is not None}, key=lambda g: (g.scale, g.name))
    groups.sort(key=lambda group: group.name != "views")
    points, _ = bar.centreline.evaluate(np.linspace(0.0, bar.centreline.length_mm, 200))
    x, y = float(points[:, 0].max()) + APART, float(points[:, 1].min())
    out = {}
    for group in groups:
        low, high = _group_box(sheet, group)
        out[group] = (low, np.array([x, y]))
        x += float(high[0] - low[0]) / group.scale + 0.2 * APART
    return out


def _group_box(sheet: Sheet, group: Group) -> tuple[Array, Array]:
    """Box (low, high) on paper of everything of a group."""
    found = []
    for ink in (sheet.ink, sheet.dimension_ink):
        found += [s.points_mm for s in ink.strokes if s.group == group]
        found += [np.array(text_box(w)).reshape(2, 2) for w in ink.writings if w.group == group]
    every = np.concatenate(found)
    return every.min(axis=0) - 1.0, every.max(axis=0) + 1.0


def _group(doc: Any, sheet: Sheet, group: Group, place: tuple[Array, Array]) -> None:
    """Lines, texts and dimensions of a group in model space, in true mm."""
    space, k = doc.modelspace(), group.scale

    def model(points: Array) -> Array:
        return np.asarray(place[1] + (np.asarray(points) - place[0]) / k)

    own = Ink([s for s in sheet.ink.strokes if s.group == group], [w for w in sheet.ink.writings if w.group == group])
    for stroke in own.strokes:
        _stroke(space, stroke, model(stroke.points_mm), k)
    for each in own.writings:
        _text(space, each, model(np.array([each.x_mm, each.y_mm])), each.height_mm / k)
    style = _dimension_style(doc, k)
    for dimension in sheet.ink.dimensions:
        if dimension.group == group:
            _dimension(space, dimension, model, style, dimension_text(dimension, sheet.ink.dimensions))


def _stroke(space: Any, stroke: Stroke, points: Array, k: float) -> None:
    where = {"layer": stroke.style.upper(), "ltscale": 1.0 / k}
    if stroke.filled:
        hatch = space.add_hatch(color=256, dxfattribs={"layer": "THIN"})
        hatch.paths.add_polyline_path([tuple(p) for p in points[:-1]], is_closed=True)
    elif stroke.circle is not None:
        centre = 0.5 * (points.min(axis=0) + points.max(axis=0))
        space.add_circle(tuple(centre), stroke.circle[2] / k, dxfattribs=where)
    else:
        closed = len(points) > 3 and bool(np.allclose(points[0], points[-1]))
        space.add_lwpolyline([tuple(p) for p in (points[:-1] if closed else points)], close=closed, dxfattribs=where)


def _text(space: Any, each: Writing, at: Array, height: float) -> None:
    from ezdxf.enums import TextEntityAlignment as Align

    text = each.text
    for letter, code in CODES.items():
        text = text.replace(letter, code)
    align = {"left": Align.LEFT, "center": Align.CENTER, "right": Align.RIGHT}[each.align]
    made = space.add_text(text, height=height, rotation=90.0 if each.upright else 0.0, dxfattribs={"layer": "TEXT"})
    made.set_placement(tuple(at), align=align)


def _dimension_style(doc: Any, k: float) -> str:
    """A dimension style whose text is 3.5 mm on paper at that scale."""
    name = f"PAPER_1_{1.0 / k:g}"
    if name not in doc.dimstyles:
        style = doc.dimstyles.add(name)
        style.dxf.update(
            {
                "dimscale": 1.0 / k, "dimtxt": 3.5, "dimasz": 2.5, "dimexo": 1.0, "dimexe": 1.5, "dimgap": 1.0,
                "dimtad": 1, "dimtih": 0, "dimtoh": 0, "dimdec": 1, "dimzin": 0, "dimdsep": ord("."), "dimlunit": 2,
                "dimtxsty": "Standard", "dimblk": "", "dimlfac": 1.0, "dimtfill": 0,
            }
        )  # fmt: skip
    return name


def _dimension(space: Any, d: PaperDimension, model: Any, style: str, text: tuple[tuple[float, float], float]) -> None:
    """A real dimension, its text where it stands on paper: elsewhere lines run through it, or the window cuts it."""
    place, height = text
    ends = model(np.array([d.one_mm, d.other_mm]))
    line = (d.line_mm, d.one_mm[1]) if d.vertical else (d.one_mm[0], d.line_mm)
    decimals = len(d.text.partition(".")[2])
    measured = f"{abs(float(ends[1, int(d.vertical)] - ends[0, int(d.vertical)])):.{decimals}f}"
    made = space.add_linear_dim(
        base=tuple(model(np.array(line))), p1=tuple(ends[0]), p2=tuple(ends[1]), angle=90.0 if d.vertical else 0.0,
        # What is measured, said as the paper says it: a half may round the other way in the program that measures.
        text="<>" if measured == d.text else d.text, override={"dimdec": decimals, "dimtxt": height},
        dimstyle=style, dxfattribs={"layer": "DIMENSION"},
    )  # fmt: skip
    made.set_location(tuple(model(np.array(place))))
    made.render()


def _paper(doc: Any, sheet: Sheet, places: dict[Group, tuple[Array, Array]]) -> None:
    """The layout: what belongs to no group, and a viewport on each group."""
    layout = doc.layout("Layout1")
    doc.layouts.rename("Layout1", "Sheet")
    layout.page_setup(size=(sheet.width_mm, sheet.height_mm), margins=(0, 0, 0, 0), units="mm")
    for stroke in sheet.ink.strokes:
        if stroke.group is None:
            _stroke(layout, stroke, stroke.points_mm, 1.0)
    for each in sheet.ink.writings:
        if each.group is None:
            _text(layout, each, np.array([each.x_mm, each.y_mm]), each.height_mm)
    for group, (low, at) in places.items():
        box_low, box_high = _group_box(sheet, group)
        size = box_high - box_low
        seen = at + 0.5 * size / group.scale
        port = layout.add_viewport(
            center=tuple(low + 0.5 * size), size=tuple(size), view_center_point=tuple(seen),
            view_height=float(size[1]) / group.scale,
        )  # fmt: skip
        port.dxf.layer = "VIEWPORT"
