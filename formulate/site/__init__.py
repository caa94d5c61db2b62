"""The lessons as a folder of files that a browser runs by itself: no server, no installation."""
