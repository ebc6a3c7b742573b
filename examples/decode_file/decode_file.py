"""A receiver behind a small command line: decodes one slot from a sound file, one per line.

    python decode_file.py SOUND_FILE [--mode ft8] [--effort belief-propagation]

It prints, in a layout of its own:

    heard "CQ Q1ABC FN42" on 1500.25 Hz, 0.031 s late, SNR -12.4 dB

where Hz is the frequency of the lowest tone, "late" counts from the mode's nominal start, and the
SNR refers to 2500 Hz.
"""

import argparse
import sys
from pathlib import Path

import numpy as np

from solidcopy.errors import SolidcopyError
from solidcopy.modes.registry import MODE_NAMES, mode_named
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.receivers.receiver import Decode
from solidcopy.signals.audio_file import read_audio
from solidcopy.signals.waveform import Waveform


def line_of(decode: Decode) -> str:
    """One decode in words."""
    return (
        f'heard "{decode.text}" on {decode.audio_hz:.2f} Hz, {decode.time_offset_s:.3f} s late, '
        f"SNR {decode.snr_db:.1f} dB"
    )


def main() -> None:
    """Read the arguments, decode, print."""
    parser = argparse.ArgumentParser(description="Decode one slot from a sound file.")
    parser.add_argument("sound_file", type=Path)
    parser.add_argument("--mode", choices=MODE_NAMES, default="ft8")
    parser.add_argument("--effort", default="ordered-statistics")
    asked = parser.parse_args()
    try:
        sound = read_audio(asked.sound_file)
        receiver = build_receiver(BuiltinSettings(effort=asked.effort), mode_named(asked.mode))
    except (SolidcopyError, ValueError) as error:
        sys.exit(f"decode_file: {error}")
    waveform = Waveform(sound.samples.astype(np.float32), sound.sample_rate_hz)
    for decode in receiver.receive(waveform).decodes:
        print(line_of(decode))


if __name__ == "__main__":
    main()
