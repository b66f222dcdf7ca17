"""matplotlib without the manual that it writes for itself while it loads, which takes it a third of that time.

Loaded before whatever draws. All that is left out is the text of `help(...set)` of its classes.
"""

from __future__ import annotations

from contextlib import suppress

_WRITES_MANUAL = "_update_set_signature_and_docstring"

with suppress(Exception):  # a version made otherwise is loaded as ever, and one that is broken says so then
    from matplotlib.artist import Artist

    if hasattr(Artist, _WRITES_MANUAL):
        setattr(Artist, _WRITES_MANUAL, classmethod(lambda _: None))
