"""A measured noise beside the ranges of ITU-R P.372, in words; never as a pass mark."""

from solidcopy import units
from solidcopy.reports.delivery_page import share_text
from solidcopy.reports.sheet import Sheet
from solidcopy.reports.wording import capital, listed, number, plain, span
from solidcopy.translate.surroundings import (
    ALL,
    GALACTIC,
    MAN_MADE,
    Surroundings,
    fa_from_dbm,
    noise_dbm,
)

NO_PASS_MARK = (
    "These are ranges over places and hours, not limits: neither a pass mark nor a proof of a "
    "fault. The data behind them are old and mostly from one country (FACTS C1). They hold for "
    "noise power at the terminals of a lossless antenna, measured as a mean of power, away from "
    "any single strong source."
)
GALACTIC_NOTE = (
    "Galactic noise reaches the ground only above the critical frequency of the F2 layer."
)
BORROWED = "For quiet rural places P.372 gives no deciles: those of rural ones are taken."


def noise_sentences(
    mhz: float, level_dbm: float, bandwidth_hz: float, error_db: float
) -> list[str]:
    """Where a measured noise lies.

    Args:
        mhz: frequency.
        level_dbm: measured, at the antenna's terminals, in `bandwidth_hz`.
        error_db: how far it may be off either way.
    """
    fa = fa_from_dbm(level_dbm, bandwidth_hz)
    here = noise_dbm(fa)
    off = f" ± {plain(error_db)}" if error_db else ""
    headline = (
        f"{number(level_dbm, 1)}{off} dBm in {plain(bandwidth_hz)} Hz at {plain(mhz)} MHz is "
        f"{number(here, 1)} dBm in {plain(units.REFERENCE_BANDWIDTH_HZ)} Hz, or Fa "
        f"{number(fa, 1)} dB; {_place_words(mhz, fa, error_db)}."
    )
    details = [
        f"{capital(kind.name)}: {_share_words(kind, mhz, fa, error_db)} of places and hours are "
        f"quieter; four fifths lie in {_range(kind, mhz)} dBm in 2500 Hz."
        for kind in MAN_MADE
    ]
    return [headline, *details, BORROWED, NO_PASS_MARK]


def noise_sheet(mhz: float) -> Sheet:
    """Medians and ranges of all surroundings at one frequency."""
    rows = []
    for kind in ALL:
        if mhz <= kind.range_mhz[1]:
            median = kind.median_db(mhz)
            row = (kind.name, number(median, 1), number(noise_dbm(median), 1), _range(kind, mhz))
            rows.append(row)
    return Sheet(
        f"Outer noise at {plain(mhz)} MHz after ITU-R P.372",
        ("surroundings", "Fa, dB (median)", "dBm in 2500 Hz (median)", "four fifths, dBm"),
        tuple(rows),
        f"Four fifths of places and hours lie in the range; of galactic noise, of hours. "
        f"{BORROWED} {GALACTIC_NOTE}",
        n_heads=1,
    )


def _range(kind: Surroundings, mhz: float) -> str:
    low, high = (noise_dbm(end) for end in kind.middle_db(mhz))
    return span(low, high, 0)


def _share_words(kind: Surroundings, mhz: float, fa: float, error_db: float) -> str:
    low, high = (kind.share_below(fa + off, mhz) for off in (-error_db, error_db))
    first, last = share_text(low), share_text(high)
    return first if first == last else f"{first} to {last}"


def _place_words(mhz: float, fa: float, error_db: float) -> str:
    """E.g. "usual in residential and rural surroundings, high for quiet rural ones"."""
    sorted_in: dict[str, list[str]] = {"low for": [], "usual in": [], "high for": []}
    for kind in MAN_MADE:
        low, high = kind.middle_db(mhz)
        where = "usual in"
        if fa + error_db < low:
            where = "low for"
        elif fa - error_db > high:
            where = "high for"
        sorted_in[where].append(kind.name)
    said = [
        f"{where} {listed(names)} surroundings"
        for where, names in (
            ("usual in", sorted_in["usual in"]),
            ("low for", sorted_in["low for"]),
            ("high for", sorted_in["high for"]),
        )
        if names
    ]
    if mhz <= GALACTIC.range_mhz[1]:
        over = fa - GALACTIC.median_db(mhz)
        way = "above" if over >= 0.0 else "below"
        said.append(f"{number(abs(over), 0)} dB {way} the middle of galactic noise")
    return ", ".join(said)
