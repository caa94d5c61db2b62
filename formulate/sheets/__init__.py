"""What people read: the bench sheet and its tables."""
