"""What people touch: state without a browser, panels that only show, the bench."""
