"""The physics room: numba kernels on floats and arrays, SI throughout.

Knows no files, no errors, no objects, and imports nothing of the package. Only the ``ride``
room calls it. Start reading at ``forces.py``, then ``integrate.py``.
"""
