"""Can anything be asked of these garments and this project at all?"""

from __future__ import annotations

import difflib
from collections.abc import Sequence

from salvage.cloth.garment import Garment
from salvage.errors import SalvageError
from salvage.fit.material.lay import same_fabric, same_name
from salvage.project.project import Panel, Project, Strip


def require_usable(garments: Sequence[Garment], project: Project) -> None:
    """Raise SalvageError saying what is wrong, in the words of the project and the record."""
    if not garments:
        raise SalvageError("No garment was given. Name at least one garment record or photograph.")
    if not project.panels and not project.strips:
        raise SalvageError(
            f"The project '{project.name}' has nothing to cut. Add a [[panel]] or a [[strip]]."
        )
    names = [panel.name for panel in project.panels] + [strip.name for strip in project.strips]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise SalvageError(
            f"The project '{project.name}' has two panels called '{twice}'. Give each its own name."
        )
    for garment in garments:
        pieces = [each.name for each in garment.pieces]
        twice = next((name for name in pieces if pieces.count(name) > 1), None)
        if twice is not None:
            raise SalvageError(
                f"'{garment.name}' has two pieces called '{twice}'. Give each piece its own name."
            )
    for panel in project.panels:
        _require_pieces(garments, panel)
    for strip in project.strips:
        _require_pieces(garments, strip)


def _require_pieces(garments: Sequence[Garment], item: Panel | Strip) -> None:
    """The pieces a panel or strip is limited to: there, and at least one of them of its fabric."""
    pieces = [piece for garment in garments for piece in garment.pieces]
    there = {same_name(piece.name) for piece in pieces}
    unknown = [name for name in item.pieces if same_name(name) not in there]
    if unknown:
        near = difflib.get_close_matches(unknown[0], [piece.name for piece in pieces], n=1)
        meant = f" Did you mean '{near[0]}'?" if near else ""
        raise SalvageError(
            f"'{item.name}' is to be cut from '{unknown[0]}', and there is no piece of that name.{meant} "
            f"The pieces there are: {', '.join(dict.fromkeys(piece.name for piece in pieces))}. "
            "Correct 'from' in the project, or the piece's name in the record."
        )
    wanted = {same_name(name) for name in item.pieces}
    fabrics = dict.fromkeys(piece.fabric for piece in pieces if same_name(piece.name) in wanted)
    if wanted and same_fabric(item.fabric) not in {same_fabric(fabric) for fabric in fabrics}:
        raise SalvageError(
            f"'{item.name}' is of {item.fabric}, and what it is to be cut from ({', '.join(item.pieces)}) is "
            f"{', '.join(fabrics)}. Correct 'fabric' or 'from' in the project, or 'fabric' in the record."
        )
