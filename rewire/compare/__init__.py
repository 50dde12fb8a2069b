"""Comparing: does another wiring keep every connection of the original?"""

from rewire.compare.comparing import compare, compare_wiring
from rewire.compare.findings import Finding, Result, State, Step

__all__ = ["Finding", "Result", "State", "Step", "compare", "compare_wiring"]
