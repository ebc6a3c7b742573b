"""For each kind an example and where its law comes from: lists and pictures use it."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType
from typing import Any, Final


@dataclass(frozen=True, slots=True)
class Card:
    """What a person wants to see of an impairment beside its numbers."""

    example: dict[str, Any]
    """Fields for a plan, `kind` left out."""
    source: str
    beside: list[dict[str, Any]] = field(default_factory=list)
    """Impairments that a picture needs to show what this one does."""
    is_drawn: bool = True


COMMON = "common practice, no source"
EQUAL = {"signal_to_interference_db": 0.0}
NEIGHBOUR = {"kind": "slot-station", "audio_hz": 2200.0, "signal_to_interference_db": -20.0}
"""A strong station in the pass band."""
FENCE = {
    "kind": "impulse-sources",
    "sources": [{"kind": "electric-fence"}],
    "signal_to_interference_db": -12.0,
}
CARRIER = {"kind": "carrier", "audio_hz": 900.0, "signal_to_interference_db": -10.0}

CARDS: Final[Mapping[str, Card]] = MappingProxyType(
    {
        "gaussian-noise": Card({"snr_db": -10.0}, "definition of SNR in 2500 Hz (trade use)"),
        "carrier": Card(
            {
                "offset_hz": 60.0,
                **EQUAL,
                "keying": {"kind": "morse", "text": "TEST Q1ABC", "speed_wpm": 20.0},
            },
            "closed form; keying by ITU-R M.1677-1",
        ),
        "band-noise": Card(
            {"offset_hz": 300.0, "width_hz": 400.0, **EQUAL},
            "Gaussian noise of a stated spectrum; derived here",
        ),
        "impulses": Card(
            {
                "rate_per_s": 5.0,
                "timing": "random",
                "pulse": {"kind": "ring", "ring_hz": 1200.0, "decay_ms": 4.0},
                **EQUAL,
            },
            "Poisson, periodic or jittered trains (textbook); between samples to -82 dB at 3 kHz, "
            "-50 dB at 20 kHz",
        ),
        "recording": Card(
            {"file": "my-noise.wav", "snr_db": "axis"}, "your own noise", is_drawn=False
        ),
        "class-a-noise": Card(
            {"snr_db": 0.0, "impulsive_index": 0.1, "gaussian_ratio": 0.01, "event_ms": 5.0},
            "Middleton's class A (textbook, from memory); events held for a time, derived here",
        ),
        "bernoulli-gaussian-noise": Card(
            {"snr_db": 0.0, "p_impulse": 0.02, "impulse_to_background_db": 20.0, "burst_ms": 10.0},
            "mixture of two Gaussians (textbook); with memory a two-state Markov chain",
        ),
        "impulse-sources": Card(
            {"sources": [{"kind": "electric-fence"}, {"kind": "mains-arc"}], **EQUAL},
            "engine speed times cylinders, arcs twice a mains cycle: common practice",
        ),
        "lightning-static": Card(
            {**EQUAL}, COMMON + "; its voltage deviation lies in P.372's range"
        ),
        "amplitude-modulated-station": Card(
            {"audio_hz": 1000.0, **EQUAL}, "A3E by its formula (textbook); programme " + COMMON
        ),
        "frequency-modulated-carrier": Card(
            {"audio_hz": 900.0, "deviation_hz": 300.0, "modulating_hz": 80.0, **EQUAL},
            "Bessel lines, Carson's width (textbook)",
        ),
        "speech-sideband": Card(
            {"audio_hz": 0.0, **EQUAL}, "J3E; long-term speech spectrum from memory, unchecked"
        ),
        "sweeping-carrier": Card(
            {"from_hz": 300.0, "to_hz": 2700.0, "sweep_hz_per_s": 400.0, **EQUAL}, COMMON
        ),
        "mains-hum": Card({"sound": "buzz", **EQUAL}, COMMON),
        "line-comb": Card(
            {
                "audio_hz": 400.0,
                "spacing_hz": 150.0,
                "n_lines": 14,
                "drift_hz_per_s": 2.0,
                **EQUAL,
            },
            COMMON,
        ),
        "switch-mode-hump": Card(
            {"audio_hz": 1000.0, "width_hz": 200.0, "drift_hz_per_s": 40.0, **EQUAL}, COMMON
        ),
        "teleprinter": Card(
            {"audio_hz": 1000.0, **EQUAL}, "ITU-T S.1 (ITA2); speeds and shifts of the trade"
        ),
        "psk31": Card({"audio_hz": 1000.0, **EQUAL}, "ITU-R M.2034 (alphabet from memory)"),
        "multi-tone": Card(
            {"audio_hz": 1200.0, "width_hz": 500.0, "n_tones": 16, **EQUAL},
            "Walsh functions on the rows of a Hadamard matrix (textbook)",
        ),
        "slot-station": Card(
            {"audio_hz": 2000.0, "signal_to_interference_db": -10.0},
            "the mode's own published protocol (docs/sources.md)",
        ),
        "slot-crowd": Card(
            {"n_stations": 25, "signal_to_interference_db": -10.0},
            "the mode's own published protocol (docs/sources.md); level law " + COMMON,
        ),
        "frequency-shift": Card({"shift_hz": 20.0, "drift_hz_per_min": 60.0}, "derived here"),
        "two-path-fading": Card(
            {"preset": "mid-latitude disturbed"}, "ITU-R F.1487 (05/2000), Annex 3"
        ),
        "multi-path-fading": Card(
            {
                "paths": [
                    {"delay_ms": 0.0, "spread_hz": 0.2, "shift_hz": 0.0},
                    {"delay_ms": 1.5, "spread_hz": 0.5, "shift_hz": 3.0},
                ]
            },
            "tapped delay line with Gaussian Doppler spectra",
        ),
        "wideband-limiter": Card({"level_db": 12.0}, COMMON, [FENCE]),
        "wideband-blanker": Card({"threshold_db": 15.0}, COMMON, [FENCE]),
        "channel-filter": Card({"low_hz": 300.0, "high_hz": 2200.0}, "derived here", [NEIGHBOUR]),
        "notch": Card(
            {"audio_hz": 900.0, "width_hz": 60.0},
            "second-order notch, bilinear transform (textbook)",
            [CARRIER],
        ),
        "automatic-notch": Card(
            {}, "least-mean-square line predictor: Widrow et al. 1975 (from memory)", [CARRIER]
        ),
        "gain-control": Card(
            {"attack_ms": 5.0, "hang_ms": 200.0, "decay_db_per_s": 30.0}, COMMON, [FENCE]
        ),
        "noise-reduction": Card(
            {}, "Ephraim and Malah 1984 (decision-directed estimate, Wiener gain; from memory)"
        ),
        "clipping": Card({"level_db": -3.0}, "closed form", [NEIGHBOUR]),
        "word-length": Card({"n_bits": 4}, "rounding noise of step²/12 (textbook)"),
        "sample-clock": Card(
            {"error_ppm": 150.0, "drift_ppm_per_min": 20.0}, "derived here", is_drawn=False
        ),
        "lost-buffers": Card({"lost_per_min": 40.0, "gap": "silent"}, COMMON, [NEIGHBOUR]),
        "slot-clock": Card({"offset_s": 0.8}, "derived here"),
    }
)
