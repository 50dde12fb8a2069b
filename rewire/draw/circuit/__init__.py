"""The circuit view: what carries a reading, as a diagram: tree, place, route, then symbols."""
