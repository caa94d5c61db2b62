"""Work that may wait: done in steps once a change is shown, and overtaken by a newer one."""

import asyncio

__all__ = ["Later"]

WAIT = 0.02  # s: messages that are in already come first


class Later:
    """
    Steps to be done when nothing newer is waiting.

    Without a running event loop, as in a script, they are done at once.

    Examples
    --------
    >>> done = []
    >>> Later().plan([lambda: done.append("drawn")])
    >>> done
    ['drawn']
    """

    def __init__(self):
        self._waiting, self._turn = None, 0  # what was planned or dropped so far

    def plan(self, steps):
        """
        Do these steps soon; what was planned before and is not yet done is dropped.

        Parameters
        ----------
        steps : iterable of callable
            The steps, in their order.

        Examples
        --------
        >>> done = []
        >>> Later().plan([lambda: done.append(1), lambda: done.append(2)])
        >>> done
        [1, 2]
        """
        self.drop()
        try:
            loop = asyncio.get_running_loop()
        except RuntimeError:
            for step in steps:
                step()
            return
        self._wait(loop, iter(tuple(steps)))

    def drop(self):
        """
        Forget what is planned.

        Examples
        --------
        >>> Later().drop() is None
        True
        """
        self._turn += 1
        if self._waiting is not None:
            self._waiting.cancel()
            self._waiting = None

    def _wait(self, loop, steps):
        self._waiting = loop.call_later(WAIT, self._next, loop, steps)

    def _next(self, loop, steps):
        self._waiting, turn = None, self._turn
        step = next(steps, None)
        if step is None:
            return
        try:
            step()
        finally:  # what came in meanwhile is dealt with before the next
            if self._turn == turn:
                self._wait(loop, steps)
