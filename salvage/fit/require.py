"""Can anything be asked of these garments and this project at all?"""

from __future__ import annotations

import difflib
import re
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import TypeVar

from salvage.cloth.garment import Garment, Piece
from salvage.errors import SalvageError
from salvage.fit.material.lay import same_fabric, same_name
from salvage.project.project import Panel, Project, Strip

Item = TypeVar("Item", Panel, Strip)


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


def pieces_called(name: str, pieces: Iterable[Piece]) -> list[Piece]:
    """Pieces of that name, and those that only have a number behind it: "left front" is "left front 2" too."""
    numbered = re.compile(re.escape(same_name(name)) + r"( \d+)?")
    return [piece for piece in pieces if numbered.fullmatch(same_name(piece.name))]


def with_pieces_named(project: Project, garments: Sequence[Garment]) -> Project:
    """The project with the full names of the pieces that each panel and strip is limited to."""
    pieces = [piece for garment in garments for piece in garment.pieces]

    def named(item: Item) -> Item:
        names = (  # as the person spells them, where it is the whole name
            name if same_name(piece.name) == same_name(name) else piece.name
            for name in item.pieces
            for piece in pieces_called(name, pieces)
        )
        return replace(item, pieces=tuple(dict.fromkeys(names)))

    return replace(
        project, panels=tuple(map(named, project.panels)), strips=tuple(map(named, project.strips))
    )


def _require_pieces(garments: Sequence[Garment], item: Panel | Strip) -> None:
    """The pieces a panel or strip is limited to: there, and at least one of them of its fabric."""
    pieces = [piece for garment in garments for piece in garment.pieces]
    unknown = [name for name in item.pieces if not pieces_called(name, pieces)]
    if unknown:
        near = difflib.get_close_matches(unknown[0], [piece.name for piece in pieces], n=1)
        meant = f" Did you mean '{near[0]}'?" if near else ""
        raise SalvageError(
            f"'{item.name}' is to be cut from '{unknown[0]}', and there is no piece of that name.{meant} "
            f"The pieces there are: {', '.join(dict.fromkeys(piece.name for piece in pieces))}. "
            "Correct 'from' in the project, or the piece's name in the record."
        )
    fabrics = dict.fromkeys(piece.fabric for name in item.pieces for piece in pieces_called(name, pieces))
    if fabrics and same_fabric(item.fabric) not in {same_fabric(fabric) for fabric in fabrics}:
        raise SalvageError(
            f"'{item.name}' is of {item.fabric}, and what it is to be cut from ({', '.join(item.pieces)}) is "
            f"{', '.join(fabrics)}. Correct 'fabric' or 'from' in the project, or 'fabric' in the record."
        )
