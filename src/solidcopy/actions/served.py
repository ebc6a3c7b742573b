"""Values that the page is given: dataclasses whose attribute docstrings describe the interface."""

from pydantic import ConfigDict, with_config

served = with_config(ConfigDict(use_attribute_docstrings=True))
"""Decorator of such a dataclass."""
