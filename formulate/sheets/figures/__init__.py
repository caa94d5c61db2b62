"""Figures over nouns, each with its alt text and the same numbers in a table."""
