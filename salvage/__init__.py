"""From a photograph of a worn garment to a yes or a no, and a way to cut it.

Data goes one way: photo -> scale -> cloth -> fit -> report, with project joining at fit.
Millimetres and degrees everywhere; any other unit is part of the name.
"""

__version__ = "0.1.0"
