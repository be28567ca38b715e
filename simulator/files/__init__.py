"""The files room: reading and writing safely. Knows no cycling.

May import ``errors`` and ``units``. Start reading at ``schema.py`` (TOML in), then ``write.py``
and ``csv_json.py`` (files out).
"""

from simulator.files.bounded import read_bytes
from simulator.files.csv_json import csv_text, json_text
from simulator.files.inside import path_inside, refuse_links_out
from simulator.files.nearest import nearest_text
from simulator.files.schema import (
    Range,
    StrictSchema,
    UncertainField,
    ValueWithSd,
    check_keys,
    check_toml,
    in_range,
    load_toml,
    problem,
    read_toml,
)
from simulator.files.toml_text import read_text
from simulator.files.write import refuse_existing, write_bytes, write_files, write_text
from simulator.files.xml_stream import stream_xml

__all__ = [
    "Range",
    "StrictSchema",
    "UncertainField",
    "ValueWithSd",
    "check_keys",
    "check_toml",
    "csv_text",
    "in_range",
    "json_text",
    "load_toml",
    "nearest_text",
    "path_inside",
    "problem",
    "read_bytes",
    "read_text",
    "read_toml",
    "refuse_existing",
    "refuse_links_out",
    "stream_xml",
    "write_bytes",
    "write_files",
    "write_text",
]
