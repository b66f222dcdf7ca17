"""The cards of the networks: what each reads and tells, which file it is, and from which scripts it was trained.

A card is JSON beside its network. Run time and training (fixtures/train) both read it, so that they can't differ.
"""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

NetworkCard = dict[str, Any]

# Of every card. inputs, outputs: planes, in their order. mean, spread: by which colours are brought to 0 and 1; a text
# where that follows from the picture itself. sha256: of the network's file. trained_at: the commit of the scripts.
KEYS = ("format", "inputs", "outputs", "mean", "spread", "sha256", "trained_at")


def card_of(network: Path) -> NetworkCard:
    """The card beside a network's file."""
    card: NetworkCard = json.loads(network.with_suffix(".json").read_text(encoding="utf-8"))
    return card
