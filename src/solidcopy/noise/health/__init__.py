"""Health of a recording: level, clipping, gaps, repeats, hum, and what it is fit for."""

from solidcopy.noise.health.channel import ChannelHealth
from solidcopy.noise.health.health import Health, Verdict, measure_health

__all__ = ["ChannelHealth", "Health", "Verdict", "measure_health"]
