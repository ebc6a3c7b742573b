"""The engine's own complaints are about what is told in a sentence, or mended, elsewhere."""

import logging
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def quiet_engine() -> Iterator[None]:
    """Keep the engine's log off the terminal, until its last connection is closed."""
    logger = logging.getLogger("distributed")
    before = logger.level
    logger.setLevel(logging.CRITICAL + 1)
    try:
        yield
    finally:
        logger.setLevel(before)
