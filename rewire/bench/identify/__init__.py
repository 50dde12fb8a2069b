"""What an unknown switch or meter is, from what was measured on it."""
