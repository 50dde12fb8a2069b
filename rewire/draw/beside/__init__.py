"""Side by side: the original and another wiring in the same arrangement, differences marked."""
