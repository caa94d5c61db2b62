"""How much of what, and why not."""
