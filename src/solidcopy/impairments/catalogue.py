"""All impairments that a plan can name, by family."""

from typing import Annotated, TypeGuard, get_args

from pydantic import Field

from solidcopy.impairments.added.band_noise import BandNoise
from solidcopy.impairments.added.bernoulli_gaussian_noise import BernoulliGaussianNoise
from solidcopy.impairments.added.carrier import Carrier
from solidcopy.impairments.added.class_a_noise import ClassANoise
from solidcopy.impairments.added.frequency_modulated import FrequencyModulatedCarrier
from solidcopy.impairments.added.gaussian_noise import GaussianNoise
from solidcopy.impairments.added.impulse_sources import ImpulseSources
from solidcopy.impairments.added.impulses import Impulses
from solidcopy.impairments.added.lightning_static import LightningStatic
from solidcopy.impairments.added.line_comb import LineComb
from solidcopy.impairments.added.mains_hum import MainsHum
from solidcopy.impairments.added.modulated_station import AmplitudeModulatedStation
from solidcopy.impairments.added.multi_tone import MultiTone
from solidcopy.impairments.added.psk31 import Psk31
from solidcopy.impairments.added.recording import OwnRecording
from solidcopy.impairments.added.slot_stations import SlotCrowd, SlotStation
from solidcopy.impairments.added.speech_sideband import SpeechSideband
from solidcopy.impairments.added.sweeping_carrier import SweepingCarrier
from solidcopy.impairments.added.switch_mode_hump import SwitchModeHump
from solidcopy.impairments.added.teleprinter import Teleprinter
from solidcopy.impairments.chain.channel_filter import ChannelFilter
from solidcopy.impairments.chain.clipping import Clipping
from solidcopy.impairments.chain.gain_control import GainControl
from solidcopy.impairments.chain.lost_buffers import LostBuffers
from solidcopy.impairments.chain.noise_reduction import NoiseReduction
from solidcopy.impairments.chain.notch import AutomaticNotch, Notch
from solidcopy.impairments.chain.sample_clock import SampleClock
from solidcopy.impairments.chain.slot_clock import SlotClock
from solidcopy.impairments.chain.wideband_blanker import WidebandBlanker
from solidcopy.impairments.chain.wideband_limiter import WidebandLimiter
from solidcopy.impairments.chain.word_length import WordLength
from solidcopy.impairments.path.fading import MultiPathFading, TwoPathFading
from solidcopy.impairments.path.frequency_shift import FrequencyShift

AnyAdded = (
    GaussianNoise
    | Carrier
    | BandNoise
    | Impulses
    | OwnRecording
    | ClassANoise
    | BernoulliGaussianNoise
    | ImpulseSources
    | LightningStatic
    | AmplitudeModulatedStation
    | FrequencyModulatedCarrier
    | SpeechSideband
    | SweepingCarrier
    | MainsHum
    | LineComb
    | SwitchModeHump
    | Teleprinter
    | Psk31
    | MultiTone
    | SlotStation
    | SlotCrowd
)
"""What is added to the wanted signal."""

AnyPath = FrequencyShift | TwoPathFading | MultiPathFading
"""What acts on the wanted signal alone."""

AnyChainBlock = (
    WidebandLimiter
    | WidebandBlanker
    | ChannelFilter
    | Notch
    | AutomaticNotch
    | GainControl
    | NoiseReduction
    | Clipping
    | WordLength
    | SampleClock
    | LostBuffers
    | SlotClock
)
"""What acts on the sum."""

AnyImpairment = Annotated[AnyAdded | AnyPath | AnyChainBlock, Field(discriminator="kind")]
"""Any impairment, told apart by `kind`."""


def _members(union: object) -> tuple[type, ...]:
    return get_args(union) or (union,)


def is_added(impairment: object) -> TypeGuard[AnyAdded]:
    """Whether it is added to the wanted signal."""
    return isinstance(impairment, _members(AnyAdded))


def is_path(impairment: object) -> TypeGuard[AnyPath]:
    """Whether it acts on the wanted signal alone."""
    return isinstance(impairment, _members(AnyPath))


def is_chain_block(impairment: object) -> TypeGuard[AnyChainBlock]:
    """Whether it acts on the sum."""
    return isinstance(impairment, _members(AnyChainBlock))
