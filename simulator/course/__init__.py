"""The course room: track + heights + zones -> `Course`.

May import ``errors``, ``units`` and ``files``. Start reading at ``course.py`` (the type) and
``build.py`` (the order of the steps).
"""

from simulator.course.course import Corner, Course, Feature, Finding

__all__ = ["Corner", "Course", "Feature", "Finding"]
