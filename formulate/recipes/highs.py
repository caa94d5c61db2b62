"""HiGHS through scipy, kept from printing: it writes stray lines past Python's own output."""

import ctypes
import os
import sys
from contextlib import contextmanager

__all__ = ["quiet"]

STDOUT = 1  # file descriptor


@contextmanager
def quiet():
    """
    Return a context in which nothing written below Python reaches standard output.

    Examples
    --------
    >>> from scipy.optimize import linprog
    >>> with quiet():
    ...     found = linprog([1.0], A_ub=[[-1.0]], b_ub=[-2.0])
    >>> float(found.fun)
    2.0
    """
    try:
        kept = os.dup(STDOUT)
    except OSError:  # no standard output at all
        yield
        return
    nowhere = os.open(os.devnull, os.O_WRONLY)
    try:
        _flush()
        os.dup2(nowhere, STDOUT)
        yield
    finally:
        _flush()
        os.dup2(kept, STDOUT)
        os.close(kept)
        os.close(nowhere)


def _flush():
    """Empty what Python and the C library still hold back of standard output."""
    if sys.stdout is not None:
        sys.stdout.flush()
    try:
        ctypes.CDLL(None).fflush(None)
    except (AttributeError, OSError, TypeError):
        return  # a system whose C library cannot be reached like this
