"""What the shunts, multipliers and pots of a wiring must be, how well it reads, what it stands.

In goes a checked spec and one of its wirings, out come frozen ``WiringValues``, worked out once
for each wiring. Begin at ``values_of`` in ``wiring_values``; what it tells is in ``answers``.
"""
