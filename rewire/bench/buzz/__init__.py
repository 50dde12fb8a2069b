"""Buzzing out: what an ohmmeter must find, which mistake explains what it found instead."""
