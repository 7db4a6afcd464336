"""Loaded by the worker processes started here: Ctrl-C in a terminal reaches them too, and is for the master alone.

The master tells its searches to stop and takes what they found; workers that ended by themselves would lose it.
"""

import signal


def dask_setup(worker) -> None:
    """Ignore interrupts from now on; called by Dask as it starts a worker."""
    signal.signal(signal.SIGINT, signal.SIG_IGN)
