"""By what things are known in the index: the cloth of a garment, a project, a file. Hashes, so that nothing that
changed is ever taken for what it was."""

from __future__ import annotations

import hashlib
import json
from dataclasses import replace

import shapely
from shapely.geometry.base import BaseGeometry

from salvage import __version__
from salvage.cloth.garment import Garment, Piece
from salvage.project.project import Project
from salvage.rail.note import told_data
from salvage.telling import Telling
from salvage.units import Unit

_LETTERS = 32  # of a hash: 128 bits


def content_of(data: bytes) -> str:
    """By what a file's bytes are known, as salvage.files.content_hash has it."""
    return hashlib.sha256(data).hexdigest()


def cloth_key(garment: Garment) -> str:
    """The same for garments with the same cloth, whatever else their records say. The name of a piece counts, for
    panels may be limited to it; that of the garment doesn't."""
    return _hash([garment.kind, *(_piece(each) for each in garment.pieces)])


def project_key(project: Project) -> str:
    """The same for projects that ask for the same, in whatever unit and with whatever notes."""
    return _hash(repr(replace(project, unit=Unit.MM, notes=())))


def telling_key(told: Telling) -> str:
    """What was told with a photograph, and by which program."""
    return _hash([__version__, sorted(told_data(told).items())])


def _piece(piece: Piece) -> list[object]:
    plus_minus = piece.plus_minus
    return [
        piece.name, piece.fabric, piece.layers, piece.grain, piece.one_way, _shape(piece.outline), _shape(piece.usable),
        [plus_minus.scale_percent, plus_minus.edge, plus_minus.grain],
        [[_shape(each.shape), each.margin] for each in piece.blocked],
    ]  # fmt: skip


def _shape(shape: BaseGeometry | None) -> str:
    return "" if shape is None else hashlib.sha256(shapely.to_wkb(shape)).hexdigest()


def _hash(data: object) -> str:
    return hashlib.sha256(json.dumps(data).encode()).hexdigest()[:_LETTERS]
