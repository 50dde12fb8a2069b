"""From the text of a spec to a checked model, errors with their places."""

from rewire.spec.read import read_spec, read_text
from rewire.spec.report import Fault, SpecError
from rewire.spec.schema import json_schema

__all__ = ["Fault", "SpecError", "json_schema", "read_spec", "read_text"]
