"""What people read: the bench sheet, its tables, and the same as data."""
