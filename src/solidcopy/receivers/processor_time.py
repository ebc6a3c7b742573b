"""Processor time, as distinct from the time that passes meanwhile."""

import sys
import time


def processor_time_s() -> float:
    """Processor time so far: of this process, all its threads, and of the processes that it
    started, once they have ended (their own ended ones included).

    Only differences mean something. Waiting, and work of a graphics processor, are not in it. On
    Windows what this process started is not in it either.
    """
    return time.process_time() + _of_ended_children_s()


def _of_ended_children_s() -> float:
    if sys.platform == "win32":
        return 0.0
    # Windows has no such module.
    import resource  # noqa: PLC0415

    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime
