"""What is played on slots, heard through two cards and cut out again is heard as it was made.

Both cards are simulated: their crystals are off, their word on timing scatters by 1 ms. The same
recordings are decoded offline; verdicts are judged in pairs (exact McNemar test, by scipy's
binomial test).
"""

import numpy as np
import pytest
from scipy.stats import binomtest

from simulated_card import SimulatedCard, SimulatedClock, SimulatedMicrophone
from solidcopy.actions.folder import folder_of
from solidcopy.actions.live_ears import OwnEar
from solidcopy.actions.live_wishes import Wishes
from solidcopy.actions.play_campaign import LiveOptions, LiveSession, the_station
from solidcopy.actions.run import RunOptions, run_campaign
from solidcopy.campaigns.journal import JournalReader
from solidcopy.modes.registry import mode_named
from solidcopy.receivers.builtin.settings import BuiltinSettings
from solidcopy.receivers.catalogue import build_receiver
from solidcopy.soundcard.player import SlotPlayer
from solidcopy.soundcard.recorder import Recorder
from solidcopy.trials.outcome import Verdict

pytestmark = pytest.mark.sweep

PLAN = """
mode = "{mode}"
root_seed = 23
axis = {{ values = {values} }}
stop = {{ trials_per_point = 75, nothing_sent = 0 }}

[[conditions]]
name = "noise"
impairments = [{{ kind = "gaussian-noise", snr_db = "axis" }}]

[[receivers]]
kind = "{receiver}"
{more}
"""
STATION = 'listener = "our own receiver behind two simulated cards"\nwait_s = 1.0'
CARD_HZ = 48_000
N_TAPS, N_PHASES = 16, 4096


def between_samples():
    """(N_PHASES + 1, N_TAPS): a sinc under a Hann window, at each part of a sample."""
    away = np.linspace(0.0, 1.0, N_PHASES + 1)[:, None] + N_TAPS // 2 - 1 - np.arange(N_TAPS)
    return np.sinc(away) * np.cos(np.pi * away / N_TAPS) ** 2


def sound_of(card):
    """What a card makes heard, also between its samples."""
    weights = between_samples()

    def at(times_s):
        place = (times_s - card._began_s - card._latency_s) * card._true_hz
        whole = np.floor(place).astype(int)
        begin = whole[0] - N_TAPS // 2 + 1
        frames = np.zeros(whole[-1] + N_TAPS - begin)
        for at_s, block in card.sound:
            number = round((at_s - card._began_s - card._latency_s) * card._true_hz) - begin
            low, high = max(number, 0), min(number + block.size, frames.size)
            if low < high:
                frames[low:high] = block[low - number : high - number]
        assert whole[-1] + N_TAPS <= card._frame
        phase = np.rint((place - whole) * N_PHASES).astype(int)
        heard = np.lib.stride_tricks.sliding_window_view(frames, N_TAPS)[whole - whole[0]]
        return np.einsum("ij,ij->i", heard, weights[phase])

    return at


def verdicts(campaign):
    with JournalReader(campaign) as reader:
        return {row.key: row.outcome.verdict for row in reader.rows()}


def heard_live(plan, mode, out_ppm, in_ppm):
    clock = SimulatedClock()
    card = SimulatedCard(clock, ppm=out_ppm, rate_hz=CARD_HZ, block=4096)
    facts = mode.facts
    microphone = SimulatedMicrophone(
        clock, sound_of(card), ppm=in_ppm, rate_hz=CARD_HZ, block=4096, latency_s=0.2
    )
    place, _ = the_station(plan, None)
    with Recorder(microphone, clock, keep_s=4.0 * facts.slot_s) as recorder:
        ear = OwnEar(recorder, build_receiver(BuiltinSettings(), mode), facts)
        player = SlotPlayer(card, clock, slot_s=facts.slot_s)
        session = LiveSession(plan, place, player, ear, Wishes(folder_of(plan)))
        errors_s = []
        for step in session.carry_out(LiveOptions()):
            del card.sound[:-20]
            errors_s += [report.played.start_error_s for report in step.slots]
            assert not any(report.played.is_void for report in step.slots)
    return np.array(errors_s)


@pytest.mark.parametrize(
    ("mode", "values"), [("ft4", [-19.5, -18, -16.5, -15]), ("ft8", [-23, -22, -21, -20])]
)
@pytest.mark.parametrize(("out_ppm", "in_ppm"), [(0.0, 0.0), (80.0, -60.0)])
def test_no_decode_is_lost_on_the_way(tmp_path, mode, values, out_ppm, in_ppm):
    plan = tmp_path / "live.toml"
    plan.write_text(PLAN.format(mode=mode, values=values, receiver="station", more=STATION))
    alone = tmp_path / "offline.toml"
    alone.write_text(PLAN.format(mode=mode, values=values, receiver="builtin", more=""))
    errors_s = heard_live(plan, mode_named(mode), out_ppm, in_ppm)
    for _ in run_campaign(alone, RunOptions(n_workers=1)):
        pass
    here, there = verdicts(folder_of(plan)), verdicts(folder_of(alone))
    assert here.keys() == there.keys() and len(here) == 300
    lost = sum(there[key] is Verdict.DECODED is not here[key] for key in here)
    gained = sum(here[key] is Verdict.DECODED is not there[key] for key in here)
    n_decoded = sum(verdict is Verdict.DECODED for verdict in there.values())
    print(
        f"\n{mode}, {out_ppm:+.0f} and {in_ppm:+.0f} ppm: {n_decoded} of 300 offline, "
        f"{lost} lost, {gained} gained; largest start error {np.abs(errors_s).max() * 1e3:.2f} ms"
    )
    assert lost + gained == 0 or binomtest(lost, lost + gained).pvalue > 0.05
