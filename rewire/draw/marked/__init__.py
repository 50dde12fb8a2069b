"""The marked-up view: what of the original stays, what goes and what is new."""

from rewire.draw.marked.view import marked_panels, marked_view

__all__ = ["marked_panels", "marked_view"]
