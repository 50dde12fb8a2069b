"""Fit: put the function of a switch on another one, or learn why it cannot be done.

In come a spec, one of its switches and the switches on hand; out goes a ``FitAnswer`` for each.
Begin with ``fit_one`` in ``answer``, then read ``task`` (what is asked) and ``search``.
"""
