"""The program held to a general circuit simulator.

A spec is read here by a small reader of its own (``reader``), written from the format's text, into
plain resistors and sources (``netlist``). ngspice solves them, hundreds of circuits to a deck
(``engine``); where its digits do not suffice, exact fractions decide (``exact``). Nothing of the
program is imported: it is run as a command, and its machine output is read.
"""
