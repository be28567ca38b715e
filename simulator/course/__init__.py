"""The course room: track + heights + zones -> `Course`.

May import ``errors``, ``units`` and ``files``. Start reading at ``course.py`` (the type) and
``build.py`` (the order of the steps).
"""

from simulator.course.build import build_course
from simulator.course.course import Corner, Course, Feature, Finding, Gate
from simulator.course.quality import CourseQuality, quality_of
from simulator.course.saving import course_csv, course_gpx
from simulator.course.settings import CourseFile
from simulator.course.synthetic import course_from_arrays
from simulator.course.tiles import heights_from_tiles
from simulator.course.track import read_track
from simulator.course.zones import read_zones

__all__ = [
    "Corner",
    "Course",
    "CourseFile",
    "CourseQuality",
    "Feature",
    "Finding",
    "Gate",
    "build_course",
    "course_csv",
    "course_from_arrays",
    "course_gpx",
    "heights_from_tiles",
    "quality_of",
    "read_track",
    "read_zones",
]
