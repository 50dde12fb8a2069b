"""From the text of a spec to checked records, errors with their places."""

from rewire.reading.faults import Fault, SpecError
from rewire.reading.read import json_schema, read_spec, read_text

__all__ = ["Fault", "SpecError", "json_schema", "read_spec", "read_text"]
