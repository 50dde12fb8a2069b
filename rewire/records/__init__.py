"""The frozen records of a spec: parts, switches, wirings, readings, rules."""
