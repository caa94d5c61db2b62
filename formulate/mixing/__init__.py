"""In what order, in which tank, at what risk."""
