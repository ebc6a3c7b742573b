"""All impairments that a plan can name."""

from typing import Annotated

from pydantic import Field

from solidcopy.impairments.added.gaussian_noise import GaussianNoise

AnyImpairment = Annotated[GaussianNoise, Field()]
"""Any impairment, told apart by `kind`."""
