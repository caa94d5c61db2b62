"""Exercises that answer back: each pupil with numbers of their own, checked, with hints and working."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach(
    __name__,
    submod_attrs={"register": ["exercise", "exercise_titles", "exercises"]},
)
