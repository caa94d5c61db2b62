"""What may go into the water, and the water itself."""
