"""All impairments that a plan can name."""

from typing import Annotated

from pydantic import Field

from solidcopy.impairments.added.band_noise import BandNoise
from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.gaussian_noise import GaussianNoise
from solidcopy.impairments.added.impulses import Impulses
from solidcopy.impairments.added.recording import OwnRecording

AnyImpairment = Annotated[
    GaussianNoise | Carrier | BandNoise | Impulses | OwnRecording, Field(discriminator="kind")
]
"""Any impairment, told apart by `kind`."""
