"""Work at the bench: what to lift and land, what an ohmmeter must read, what explains it if not.

In come a spec and its wirings, and bench logs; out come ``Moves``, ``Plan``, ``Diagnosis``,
``Record``. Begin with ``wire_plan`` and ``moves`` for the work with the iron, with ``ohmmeter``,
``probes`` and ``short_list`` for the buzz-out.
"""
