"""The lug view: place, route and paint a switch as one sees it with the iron in hand."""
