"""From the text of a spec to checked records, errors with their places."""

from rewire.reading.faults import Fault, SpecError
from rewire.reading.read import read_spec, read_text
from rewire.reading.schema import json_schema

__all__ = ["Fault", "SpecError", "json_schema", "read_spec", "read_text"]
