"""Where each block stands: always in the order of a real receiver, however a plan lists them."""

LIMITER = 10
BLANKER = 15
"""Up to here at the internal rate; from here on at the rate of the recording."""
CHANNEL_FILTER = 20
NOTCH = 30
AUTOMATIC_NOTCH = 35
GAIN_CONTROL = 40
NOISE_REDUCTION = 50
CLIPPING = 60
WORD_LENGTH = 70
SAMPLE_CLOCK = 80
BUFFERS = 90
SLOT_CLOCK = 100
"""It moves the slot's edge (`late_s`) and touches no sample."""

RUN_IN_S = 1.0
"""Audio before and after the slot while the chain runs in and out: the slot's own, mirrored at
its edges. A gain control so meets the level that it had met for long, and no edge clicks."""
