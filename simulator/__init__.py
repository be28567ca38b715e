"""buildgap: where a bike build loses time on a real course, why, and how sure that is.

Importing this package loads nothing heavy: neither numba nor matplotlib nor scipy.
"""

__version__ = "0.1.0"
