"""The answer as the JSON object that `salvage fit --json` prints."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry import Polygon

from salvage.cloth.garment import Garment, Piece
from salvage.fit.answer import Answer, Help, LeftOver, Placement
from salvage.fit.claim import Proof
from salvage.fit.say.cloth import unsuited, unsure
from salvage.fit.say.proofs import of_claim

FORMAT = "salvage fit 1"

ToPixels = Callable[[Piece, NDArray[np.float64]], "NDArray[np.float64] | None"]


def answer_to_json(
    answer: Answer, garments: Sequence[Garment], to_px: ToPixels | None = None
) -> dict[str, Any]:
    """The answer as plain lists, numbers and strings.

    to_px: gives the pixels (n, 2) of points (n, 2) mm on a piece's plane in that piece's photograph, or
    None; called for pieces that have a photograph.
    """
    return {
        "format": FORMAT,
        "verdict": str(answer.verdict),
        "unsuited": list(unsuited(answer, garments)),
        "unsure": list(unsure(answer, garments)),
        "spare": _rounded(answer.spare, 4),  # two that differ must not read the same
        "plus_minus": _rounded(answer.plus_minus, 4),
        "seconds": round(answer.seconds, 2),
        "reasons": list(answer.reasons),
        "proof": _proof(answer.proof),
        "placements": [_placement(each, garments, to_px) for each in answer.placements],
        "not_placed": list(answer.not_placed),
        "largest_scale_percent": _rounded(answer.largest_scale_percent),
        "left_over": {fabric: _left_over(each) for fabric, each in answer.left_over.items()},
        "suggestions": list(answer.suggestions),
        "helps": [_help(each) for each in answer.helps],
        "join_plan": list(answer.join_plan),
        "suffices": list(answer.suffices),
        "many": dict(answer.many),
        "longest": {name: round(length, 1) for name, length in answer.longest.items()},
        "fabrics": {
            fabric: {"verdict": str(each.verdict), "reasons": list(each.reasons), "proof": _proof(each.proof)}
            for fabric, each in answer.fabrics.items()
        },
        "doubts": list(answer.doubts),
    }


def _rounded(value: float | None, digits: int = 2) -> float | None:
    return None if value is None else round(float(value), digits)


def _help(each: Help) -> dict[str, Any]:
    """A change as data: what to write in the project file, beside the sentence."""
    told: dict[str, Any] = {"kind": str(each.kind), "text": each.text}
    told["edits"] = [
        {"item": edit.item, "key": edit.key, "before": _plain(edit.before), "after": _plain(edit.after)}
        for edit in each.edits
    ]
    if each.percent is not None:
        told["percent"] = _rounded(each.percent)
    if each.garments:
        told["garments"] = each.garments
    return told


def _proof(proof: Proof | None) -> dict[str, Any] | None:
    if proof is None:
        return None
    return {"kind": str(proof.kind), "reason": of_claim(proof), "numbers": _plain(proof.numbers)}


def _placement(placement: Placement, garments: Sequence[Garment], to_px: ToPixels | None) -> dict[str, Any]:
    found: dict[str, Any] = {
        "panel": placement.panel,
        "copy": placement.copy,
        "part": placement.part,
        "garment": placement.garment,
        "piece": placement.piece,
        "layer": placement.layer,
        "angle": placement.angle,
        "flipped": placement.flipped,
        "shape": _plain(shapely.geometry.mapping(placement.shape)),
    }
    piece = next(each for each in garments[placement.garment].pieces if each.name == placement.piece)
    if piece.photo is not None:
        found["photo"] = piece.photo.file
        points_px = None if to_px is None else to_px(piece, _ring(placement.shape))
        if points_px is not None:
            found["shape_px"] = np.round(np.asarray(points_px, float), 2).tolist()
    return found


def _ring(shape: Polygon) -> NDArray[np.float64]:
    """Corners of the outline, first point not repeated."""
    return shapely.get_coordinates(shape.exterior)[:-1]


def _left_over(left: LeftOver) -> dict[str, Any]:
    keys = ("width", "length", "garment", "piece")
    return {
        "area": round(left.area, 1),
        "rectangles": [_plain(dict(zip(keys, each, strict=True))) for each in left.rectangles],
    }


def _plain(value: Any) -> Any:
    """Tuples, numpy values and enumerations as what JSON knows."""
    if isinstance(value, dict):
        return {str(key): _plain(each) for key, each in value.items()}
    if isinstance(value, (list, tuple)):
        return [_plain(each) for each in value]
    if isinstance(value, np.ndarray):
        return _plain(value.tolist())
    if isinstance(value, np.generic):
        return value.item()
    return value
