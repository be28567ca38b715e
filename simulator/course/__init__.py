"""The course room: track + heights + zones -> `Course`.

May import ``errors``, ``units`` and ``files``. Start reading at ``course.py`` (the type) and
``build.py`` (the order of the steps).
"""

from simulator.course.course import Corner, Course, Feature, Finding
from simulator.course.synthetic import course_from_arrays

__all__ = ["Corner", "Course", "Feature", "Finding", "course_from_arrays"]
