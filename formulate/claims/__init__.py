"""Does the label tell the truth."""
