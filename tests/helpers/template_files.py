"""Templates read back by other libraries than wrote them: svgelements, and GDAL through pyogrio."""

from __future__ import annotations

from pathlib import Path

import shapely
from shapely.geometry import Polygon
from svgelements import SVG
from svgelements import Path as SvgPath

MM_PER_CSS_PX = 25.4 / 96


def read_svg(data: bytes, folder: Path) -> dict[str, list[shapely.Geometry]]:
    """The paths of each group of an SVG drawing in mm, y up, by the group's id; read by svgelements."""
    file = folder / "t.svg"
    file.write_bytes(data)
    found: dict[str, list[shapely.Geometry]] = {}
    for group in SVG.parse(str(file), ppi=96).select(
        lambda e: getattr(e, "id", None) and type(e).__name__ == "Group"
    ):
        for element in group:
            if not isinstance(element, SvgPath):
                continue
            # svgelements has applied the view box: its points are CSS pixels
            bare = [(p.end.x * MM_PER_CSS_PX, -p.end.y * MM_PER_CSS_PX) for p in SvgPath(element) if p.end]
            shape = Polygon(bare) if len(bare) > 3 and bare[0] == bare[-1] else shapely.LineString(bare)
            found.setdefault(group.id, []).append(shape)
    return found


def read_dxf(data: bytes, folder: Path) -> dict[str, list[shapely.Geometry]]:
    """The lines of each layer of a DXF drawing, in its own units; read by GDAL."""
    import pyogrio.raw

    file = folder / "t.dxf"
    file.write_bytes(data)
    meta, _, geometries, fields = pyogrio.raw.read(file)
    layers = fields[list(meta["fields"]).index("Layer")]
    found: dict[str, list[shapely.Geometry]] = {}
    for layer, shape in zip(layers, shapely.from_wkb(geometries), strict=True):
        shape = shapely.force_2d(shape)
        if shape.geom_type == "LineString" and shape.is_closed:
            shape = Polygon(shape)
        found.setdefault(layer, []).append(shape)
    return found
