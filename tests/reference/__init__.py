"""An independent reference: brute force over states and combinations, from the text alone."""
