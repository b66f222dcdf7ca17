"""Makes the scripts of fixtures/ importable, for benches that draw with them.

Their folder comes last on the path: else the checkout would be taken for the installed package.
"""

from __future__ import annotations

import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
if str(ROOT) not in sys.path:
    sys.path.append(str(ROOT))
