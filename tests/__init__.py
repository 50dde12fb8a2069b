"""Tests of rewire, and the independent references they check against."""
