"""Thirty canonical jobs, and what is told of each of them in numbers and words."""
