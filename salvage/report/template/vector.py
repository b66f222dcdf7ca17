"""A drawing as SVG and as DXF: true scale, one layer for each kind of line, called by plain words."""

from __future__ import annotations

import io
import math
from xml.etree import ElementTree

from salvage.report.template.drawing import Drawing, Layer

_INK = {
    Layer.CLOTH: ("#9a9a9a", 0.3, ""),
    Layer.BLOCKED: ("#c0764a", 0.3, "2 1"),
    Layer.CUT: ("#000000", 0.4, ""),
    Layer.STITCH: ("#1f5fa8", 0.25, "4 2.5"),
    Layer.NOTCH: ("#000000", 0.4, ""),
    Layer.GUIDE: ("#1f7a4d", 0.25, "1 1.5"),
    Layer.KEPT: ("#8a2f7a", 0.35, "0.6 1.2"),
    Layer.EDGE: ("#b3470e", 0.9, "6 1.5 1.2 1.5"),
    Layer.GRAIN: ("#000000", 0.3, ""),
    Layer.TEXT: ("#000000", 0.0, ""),
}

# AutoCAD colour index (DXF reference): 7 black or white, 1 red, 5 blue, 6 magenta, 3 green, 8 grey, 30 orange.
_COLOUR = {
    Layer.CLOTH: 8, Layer.BLOCKED: 30, Layer.STITCH: 5, Layer.GUIDE: 3, Layer.KEPT: 6, Layer.EDGE: 1,
}  # fmt: skip
_DASHED = {
    Layer.STITCH: "DASHED", Layer.GUIDE: "DOT", Layer.BLOCKED: "DASHED", Layer.KEPT: "DOT",
    Layer.EDGE: "DASHDOT",
}  # fmt: skip
_MILLIMETRES = 4  # DXF reference, $INSUNITS
_INKSCAPE = (
    "http://www.inkscape.org/namespaces/inkscape"  # its layer attributes are what drawing programs read
)
_EDGE = 3.0  # mm of white round the drawing


def to_svg(drawing: Drawing) -> str:
    """SVG in millimetres, a group for each layer. Source: SVG 1.1 (2nd ed.), sections 7.2, 7.7, 7.10."""
    low_x, low_y, high_x, high_y = drawing.bounds
    width, height = high_x - low_x + 2 * _EDGE, high_y - low_y + 2 * _EDGE

    def at(point: tuple[float, float]) -> str:
        return f"{point[0] - low_x + _EDGE:.4f},{high_y - point[1] + _EDGE:.4f}"

    ElementTree.register_namespace("", "http://www.w3.org/2000/svg")
    root = ElementTree.Element(
        "svg",
        {
            "xmlns": "http://www.w3.org/2000/svg",
            "xmlns:inkscape": _INKSCAPE,
            "width": f"{width:.4f}mm",
            "height": f"{height:.4f}mm",
            "viewBox": f"0 0 {width:.4f} {height:.4f}",
        },
    )
    ElementTree.SubElement(root, "title").text = _plain(drawing.name)
    for layer in Layer:
        lines = [line for line in drawing.lines if line.layer is layer]
        texts = drawing.texts if layer is Layer.TEXT else ()
        if not lines and not texts:
            continue
        colour, wide, dashes = _INK[layer]
        look = {"id": layer.value, "inkscape:groupmode": "layer", "inkscape:label": layer.value}
        look |= {"fill": "none", "stroke": colour, "stroke-width": f"{wide:g}"}
        look |= {"stroke-dasharray": dashes} if dashes else {}
        if layer is Layer.TEXT:
            look |= {"fill": colour, "stroke": "none", "font-family": "sans-serif", "text-anchor": "middle"}
        group = ElementTree.SubElement(root, "g", look)
        for line in lines:
            path = "M" + " L".join(map(at, line.points)) + (" Z" if line.closed else "")
            ElementTree.SubElement(group, "path", {"d": path} | ({"fill": colour} if line.filled else {}))
        for text in texts:
            x, y = at(text.at).split(",")
            # the middle of small letters lies a third of their em above the baseline
            style = {"x": x, "y": y, "dy": "0.35em", "font-size": f"{text.height:.3f}"}
            style |= {"font-weight": "bold"} if text.bold else {}
            if text.rotation:
                style["transform"] = f"rotate({-text.rotation:.3f} {x} {y})"
            ElementTree.SubElement(group, "text", style).text = _plain(text.text)
    ElementTree.indent(root)
    return ElementTree.tostring(root, encoding="unicode") + "\n"


def _plain(text: str) -> str:
    """Without what XML has no place for (XML 1.0, section 2.2)."""
    return "".join(c for c in text if c.isprintable())


def to_dxf(drawing: Drawing) -> bytes:
    """DXF (R2010) in millimetres, lower left of all lines at (0, 0)."""
    import ezdxf
    from ezdxf.enums import TextEntityAlignment

    document = ezdxf.new("R2010", setup=["linetypes"], units=_MILLIMETRES)
    space = document.modelspace()
    low_x, low_y, _, _ = drawing.bounds
    for layer in Layer:
        document.layers.add(
            layer.value, color=_COLOUR.get(layer, 7), linetype=_DASHED.get(layer, "CONTINUOUS")
        )
    for line in drawing.lines:
        points = [(x - low_x, y - low_y) for x, y in line.points]
        space.add_lwpolyline(points, close=line.closed, dxfattribs={"layer": line.layer.value})
    for text in drawing.texts:
        # ezdxf and the DXF reference give the height of capitals, 0.7 of the em in common fonts
        entity = space.add_text(
            _plain(text.text), height=0.7 * text.height, rotation=math.fmod(text.rotation, 360.0),
            dxfattribs={"layer": Layer.TEXT.value},
        )  # fmt: skip
        entity.set_placement(
            (text.at[0] - low_x, text.at[1] - low_y), align=TextEntityAlignment.MIDDLE_CENTER
        )
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue().encode("utf-8", "replace")
