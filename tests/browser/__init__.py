"""The workbench in a real browser."""
