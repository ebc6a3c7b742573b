"""Findings in words, and what each leaves a recording good for.

Where nothing is said of a source, the limits are our own: a recording is for measuring while
its level is right to about 0.1 dB.
"""

from collections.abc import Iterable, Sequence

from solidcopy import units
from solidcopy.noise.health.channel import ChannelHealth
from solidcopy.noise.health.coder_traces import CoderTrace
from solidcopy.noise.health.repeats import Repeat
from solidcopy.noise.health.stretches import Stretch
from solidcopy.noise.reading.sound import Sound
from solidcopy.signals.sound_file.findings import Finding, Weight, grouped, lasting

MAX_CLIPPED_SHARE = 1e-4
"""At 15 dB between rms level and full scale, and pulses that would have gone 10 dB beyond, the
power that is lost is then 0.12 dB."""
MAX_GAP_SHARE = 0.01
MIN_OFFSET_DB = 0.1
MIN_MARGIN_DB = 16.3
"""Rounding noise so far below a sound adds 0.1 dB to it."""
MIN_RATE_HZ = 5940
"""Reaches 2700 Hz with a tenth to spare."""
MIN_DURATION_S = 1.0
MAX_SILENT_SWING = 0.01
"""From lowest to highest value, full scale ±1.0: 40 dB below it."""
N_NAMED = 5
"""Times that are named in a sentence; programs get more."""
UNIFORM_ERROR = 1.0 / 12.0
"""Mean square of the rounding error, in squared steps."""


def of_file(sound: Sound) -> list[Finding]:
    """What rate, length and word format leave the file good for."""
    findings = []
    if sound.facts.starts is not None:
        starts = sound.facts.starts
        findings.append(
            Finding(
                "start-time",
                f"began at {starts.moment.isoformat(' ', timespec='milliseconds')}"
                f' by its "{starts.chunk}" chunk, which names no time zone',
            )
        )
    if sound.sample_rate_hz < MIN_RATE_HZ:
        findings.append(
            Finding(
                "rate-too-low",
                f"{grouped(sound.sample_rate_hz)} Hz do not reach 2700 Hz of audio; record with "
                "8000 Hz or more",
                Weight.SOURCES_ONLY,
            )
        )
    if sound.duration_s < MIN_DURATION_S:
        findings.append(
            Finding(
                "too-short",
                f"it lasts {sound.duration_s:.2f} s; at least {MIN_DURATION_S:g} s are needed, a "
                "minute or more is good",
                Weight.SOURCES_ONLY,
            )
        )
    if sound.facts.encoding.endswith("law"):
        findings.append(
            Finding(
                "logarithmic",
                f"{sound.facts.encoding} words add noise of their own, 38 dB below the sound",
            )
        )
    return findings


def of_channel(channel: ChannelHealth, sound: Sound) -> list[Finding]:
    """What was measured in one channel."""
    where = "" if sound.channel is not None else f"{channel.name}: "
    if channel.is_silent:
        value = channel.levels.highest
        what = "silent (all samples are 0)" if value == 0.0 else f"stuck (all are {value:g})"
        return [
            Finding(
                "silent" if value == 0.0 else "stuck",
                f"{where}{what}; check the recorder's input",
                Weight.UNFIT,
                brief=f"{where}silent" if value == 0.0 else f"{where}stuck",
            )
        ]
    return [
        *_clipping(channel, sound, where),
        *_full_scale(channel, where),
        *_still(channel.still, sound, where),
        *_offset(channel, where),
        *_rounding(channel, sound, where),
        *_hum(channel, where),
    ]


def of_silent(channels: Iterable[ChannelHealth]) -> list[Finding]:
    """Channels that are silent where they were compared, but not all through."""
    return [
        Finding(
            "not-silent-throughout",
            f"{channel.name} is silent at the places compared, but not all through: it peaks "
            f"{-units.peak_dbfs(channel.levels.peak):.1f} dB below full scale",
        )
        for channel in channels
        if channel.levels.highest - channel.levels.lowest > MAX_SILENT_SWING
    ]


def of_repeats(repeats: Sequence[Repeat], sound: Sound, *, is_periodic: bool) -> list[Finding]:
    """Buffers that came twice, or a sound that repeats itself all the time."""
    if not repeats:
        return []
    n_repeated = sum(repeat.end - repeat.start for repeat in repeats)
    places_s = tuple(repeat.start / sound.sample_rate_hz for repeat in repeats)
    if is_periodic:
        lag = repeats[0].lag
        sentence = (
            f"it repeats itself sample by sample every {grouped(lag)} samples: a made sound, or a "
            "recorder that stands still"
        )
        return [Finding("periodic", sentence)]
    lag_s = repeats[0].lag / sound.sample_rate_hz
    count = f"{len(repeats)} buffers" if len(repeats) > 1 else "a buffer"
    sentence = (
        f"{count} came twice (the first of {lag_s * 1000.0:.1f} ms), at {_times(places_s)}; sound "
        "was lost there, or what follows is late by as much"
    )
    brief = f"{len(repeats)} repeated buffer{'s' if len(repeats) > 1 else ''}"
    is_much = n_repeated > MAX_GAP_SHARE * sound.n_samples
    return [Finding("repeated", sentence, _weight(is_much), places_s[:100], brief)]


def of_trace(trace: CoderTrace | None) -> list[Finding]:
    """What a lossy coder left in a file that does not tell of it."""
    if trace is None:
        return []
    sentence = (
        f"it looks as if it once went through a lossy coder: in frames like {trace.family}'s, "
        f"{trace.hop} samples apart, {_percent(trace.share)} of the numbers are next to zero, "
        f"{_percent(trace.usual_share)} at any other place; noise is changed by that, so it is not "
        "for measuring; ask who made the file"
    )
    return [Finding("once-lossy", sentence, Weight.SOURCES_ONLY, brief="once lossy")]


def _clipping(channel: ChannelHealth, sound: Sound, where: str) -> list[Finding]:
    clipping = channel.clipping
    if clipping.n_samples == 0:
        return []
    share = clipping.n_samples / sound.n_samples
    places_s = tuple(start / sound.sample_rate_hz for start in clipping.starts)
    level = units.peak_dbfs(channel.levels.peak)
    at = "" if level > -0.1 else f" at {level:.1f} dBFS, below full scale"
    sentence = (
        f"{where}{_percent(share)} clipped{at}: {grouped(clipping.n_samples)} samples in "
        f"{grouped(clipping.n_runs)} {_runs(clipping.n_runs)}, the longest of "
        f"{clipping.longest_samples}; first at "
        f"{_times(places_s)}"
    )
    brief = f"{where}{_percent(share)} clipped"
    return [Finding("clipped", sentence, _weight(share > MAX_CLIPPED_SHARE), places_s, brief)]


def _full_scale(channel: ChannelHealth, where: str) -> list[Finding]:
    if channel.levels.n_over_full_scale == 0:
        return []
    over_db = units.peak_dbfs(channel.levels.peak)
    sentence = (
        f"{where}{grouped(channel.levels.n_over_full_scale)} samples are beyond full scale, by up "
        f"to {over_db:.2f} dB; levels are kept"
    )
    return [Finding("over-full-scale", sentence)]


def _still(stretches: Iterable[Stretch], sound: Sound, where: str) -> list[Finding]:
    findings, gaps = [], []
    for stretch in stretches:
        length = lasting(stretch.n_samples / sound.sample_rate_hz)
        what = "silent" if stretch.value == 0.0 else f"stuck at {stretch.value:g}"
        if stretch.start == 0:
            findings.append(Finding("still-at-start", f"{where}{what} for the first {length}"))
        elif stretch.end == sound.n_samples:
            findings.append(Finding("still-at-end", f"{where}{what} for the last {length}"))
        else:
            gaps.append(stretch)
    if gaps:
        total = sum(gap.n_samples for gap in gaps)
        places_s = tuple(gap.start / sound.sample_rate_hz for gap in gaps)
        word = "gap" if all(gap.value == 0.0 for gap in gaps) else "stretch of one value"
        count = f"{len(gaps)} {word}s" if len(gaps) > 1 else f"1 {word}"
        count = count.replace("stretch of one values", "stretches of one value")
        sentence = (
            f"{where}{count}, {lasting(total / sound.sample_rate_hz)} in all, at {_times(places_s)}"
        )
        is_much = total > MAX_GAP_SHARE * sound.n_samples
        findings.append(
            Finding("gaps", sentence, _weight(is_much), places_s[:100], f"{where}{count}")
        )
    n_still = sum(stretch.n_samples for stretch in stretches)
    if n_still > 0.5 * sound.n_samples:
        sentence = f"{where}{_percent(n_still / sound.n_samples)} of it stands still"
        findings.append(Finding("mostly-still", sentence, Weight.SOURCES_ONLY))
    return findings


def _offset(channel: ChannelHealth, where: str) -> list[Finding]:
    inflates_db = channel.levels.offset_inflates_db
    if inflates_db < MIN_OFFSET_DB:
        return []
    sentence = (
        f"{where}a constant offset of {channel.levels.offset:+.4f} would overstate the level by "
        f"{inflates_db:.2f} dB; levels are given without it"
    )
    return [Finding("offset", sentence)]


def _rounding(channel: ChannelHealth, sound: Sound, where: str) -> list[Finding]:
    step, stated = channel.step, sound.facts.step
    if step is None or stated is None:
        return []
    findings = []
    if step > stated:
        sentence = (
            f"{where}of its words the lowest {round(units.db_from_ratio(step / stated) / 3.0103)} "
            "bits are never used"
        )
        findings.append(Finding("unused-bits", sentence))
    margin_db = units.db_from_ratio(channel.levels.power / (UNIFORM_ERROR * step**2))
    if margin_db < MIN_MARGIN_DB:
        sentence = (
            f"{where}the level is only {margin_db:.1f} dB above the rounding noise of its words; "
            "record louder or with 24 bits"
        )
        findings.append(Finding("too-faint", sentence, Weight.SOURCES_ONLY))
    return findings


def _hum(channel: ChannelHealth, where: str) -> list[Finding]:
    hum = channel.hum
    if hum is None:
        return []
    sentence = (
        f"{where}mains hum: {hum.n_lines} multiples of {hum.mains_hz:g} Hz, {hum.power_dbfs:.1f} "
        f"dBFS together, {_percent(hum.share)} of the power; from the air or from the cable"
    )
    return [Finding("hum", sentence)]


def _weight(is_heavy: bool) -> Weight:
    return Weight.SOURCES_ONLY if is_heavy else Weight.REMARK


def _runs(n_runs: int) -> str:
    return "run" if n_runs == 1 else "runs"


def _percent(share: float) -> str:
    return f"{100.0 * share:.2g} %"


def _times(places_s: Sequence[float]) -> str:
    """The first few times, e.g. "3.20, 7.51 and 8.00 s" or "3.20, ... s"."""
    distinct = list(dict.fromkeys(f"{place_s:.2f}" for place_s in places_s))
    named = distinct[:N_NAMED]
    if len(distinct) > N_NAMED:
        return ", ".join(named) + " s and later"
    if len(named) == 1:
        return f"{named[0]} s"
    return ", ".join(named[:-1]) + f" and {named[-1]} s"
