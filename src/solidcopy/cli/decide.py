"""`solidcopy decide`: from decibels to watts, antennas, chances and minutes."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from solidcopy.errors import FigureError

if TYPE_CHECKING:
    from solidcopy.actions.decide.noise import Measured
    from solidcopy.actions.decide.subject import Subject

app = typer.Typer(
    no_args_is_help=True, help="Turn decibels into watts, antennas, chances and minutes."
)

Campaign = Annotated[
    Path | None, typer.Argument(help="Campaign folder or its plan file; left out: given by hand.")
]
Condition = Annotated[
    str | None, typer.Option("--condition", help="Name or number; needed where there are several.")
]
Receiver = Annotated[
    str | None, typer.Option("--receiver", help="Name or number; needed where there are several.")
]
Mode = Annotated[str, typer.Option("--mode", help="ft8 or ft4; of figures given by hand.")]
HalfDb = Annotated[
    float | None,
    typer.Option("--half-db", help="By hand: SNR in 2500 Hz at which half gets through."),
]
NinetyDb = Annotated[
    float | None, typer.Option("--ninety-db", help="By hand: SNR at which 90 % get through.")
]
Mhz = Annotated[float, typer.Option("--mhz", help="Frequency.")]
NoiseDbm = Annotated[
    float | None, typer.Option("--noise-dbm", help="Measured at the antenna's terminals.")
]
NoiseHz = Annotated[float | None, typer.Option("--noise-hz", help="Bandwidth of that measurement.")]
NoiseError = Annotated[
    float, typer.Option("--noise-error-db", help="How far it may be off either way.")
]


@app.callback()
def options() -> None:
    """Turn decibels into watts, antennas, chances and minutes."""


@app.command("power")
def power(
    campaign: Campaign = None,
    *,
    db: Annotated[
        float | None, typer.Option("--db", help="By hand: more signal needed; negative: less.")
    ] = None,
    low_db: Annotated[
        float | None, typer.Option("--low-db", help="Its interval's low end.")
    ] = None,
    high_db: Annotated[
        float | None, typer.Option("--high-db", help="Its interval's high end.")
    ] = None,
    watts: Annotated[float, typer.Option("--watts", help="Transmitter power now.")] = 5.0,
) -> None:
    """Say what a difference in dB means in watts, gain and S-units.
    Of a campaign: every difference from the first condition or receiver."""
    from solidcopy.actions.decide.power import Shift, power_of_campaign, power_of_shift
    from solidcopy.reports.sheet_text import said_text

    if (campaign is None) == (db is None):
        raise FigureError("give a campaign, or a difference with --db, not both")
    if campaign is not None:
        said = power_of_campaign(campaign, watts)
    elif db is not None:
        said = power_of_shift(Shift(db, low_db, high_db), watts)
    typer.echo(said_text(said))


@app.command("noise")
def noise(
    mhz: Mhz,
    *,
    noise_dbm: NoiseDbm = None,
    noise_hz: NoiseHz = None,
    noise_error_db: NoiseError = 0.0,
) -> None:
    """Place a measured noise among surroundings after ITU-R P.372.
    A range in words, never a pass mark; without a measurement only the table."""
    from solidcopy.actions.decide.noise import noise_text

    typer.echo(noise_text(mhz, _measured(noise_dbm, noise_hz, noise_error_db)))


@app.command("link")
def link(
    campaign: Campaign = None,
    *,
    mhz: Mhz,
    watts: Annotated[float, typer.Option("--watts", help="At the transmitter's output.")],
    path_loss_db: Annotated[
        float | None, typer.Option("--path-loss-db", help="Between isotropic antennas.")
    ] = None,
    free_space_km: Annotated[
        float | None, typer.Option("--free-space-km", help="Distance; for free space only.")
    ] = None,
    path_loss_error_db: Annotated[
        float, typer.Option("--path-loss-error-db", help="8 of 10 times it is off by less.")
    ] = 0.0,
    surroundings: Annotated[
        str | None,
        typer.Option("--surroundings", help="city, residential, rural or quiet-rural."),
    ] = None,
    noise_dbm: NoiseDbm = None,
    noise_hz: NoiseHz = None,
    noise_error_db: NoiseError = 0.0,
    galactic: Annotated[
        bool, typer.Option("--galactic", help="Add galactic noise (above the critical frequency).")
    ] = False,
    transmit_gain_dbi: Annotated[
        float, typer.Option("--transmit-gain-dbi", help="Toward the other station.")
    ] = 0.0,
    transmit_loss_db: Annotated[
        float, typer.Option("--transmit-loss-db", help="Cable and tuner.")
    ] = 0.0,
    receive_gain_dbi: Annotated[
        float, typer.Option("--receive-gain-dbi", help="Toward the other station.")
    ] = 0.0,
    receive_loss_db: Annotated[
        float, typer.Option("--receive-loss-db", help="Antenna, cable and tuner.")
    ] = 0.0,
    noise_figure_db: Annotated[
        float, typer.Option("--noise-figure-db", help="Of the receiver.")
    ] = 10.0,
    condition: Condition = None,
    receiver: Receiver = None,
    mode: Mode = "ft8",
    half_db: HalfDb = None,
    ninety_db: NinetyDb = None,
) -> None:
    """Say how surely a path carries a message: watts to SNR to chance.
    Each line of the budget, and all that is unknown carried through by drawing."""
    from solidcopy.actions.decide.link import (
        NoiseHere,
        PathLoss,
        Stations,
        link_facts,
        link_text,
    )

    facts = link_facts(
        _subject(campaign, condition, receiver, (mode, half_db, ninety_db)),
        Stations(
            watts,
            transmit_gain_dbi,
            transmit_loss_db,
            receive_gain_dbi,
            receive_loss_db,
            noise_figure_db,
        ),
        PathLoss(path_loss_db, free_space_km, path_loss_error_db),
        NoiseHere(surroundings, _measured(noise_dbm, noise_hz, noise_error_db), galactic),
        mhz,
    )
    typer.echo(link_text(facts))


@app.command("delivery")
def delivery(
    campaign: Campaign = None,
    *,
    minutes: Annotated[str, typer.Option("--minutes", help="Times, e.g. 2,5,10.")] = "1,2,5,10",
    wanted: Annotated[
        float, typer.Option("--wanted", help="Per cent that are sure enough.")
    ] = 90.0,
    watts: Annotated[
        float | None, typer.Option("--watts", help="Power now: rows of the table are powers then.")
    ] = None,
    level_now: Annotated[
        float | None, typer.Option("--level-now", help="What it gives on the campaign's axis, dB.")
    ] = None,
    condition: Condition = None,
    receiver: Receiver = None,
    mode: Mode = "ft8",
    half_db: HalfDb = None,
    ninety_db: NinetyDb = None,
    chance: Annotated[
        float | None, typer.Option("--chance", help="By hand: per cent of one attempt.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", help="Write a page to print, and Markdown, here.")
    ] = None,
) -> None:
    """Say how surely a message or contact gets through in minutes.
    By repeats in half-duplex slots; with --out as a table for people who do not speak dB."""
    from solidcopy.actions.decide.delivery import (
        Wishes,
        delivery_by_chance,
        delivery_of,
        write_delivery,
    )
    from solidcopy.reports.delivery_page import delivery_text

    if (watts is None) != (level_now is None):
        raise FigureError("give --watts and --level-now together: a power and what it gives")
    now = None if watts is None or level_now is None else (watts, level_now)
    wishes = Wishes(_numbers(minutes), wanted / 100.0, now)
    if chance is not None:
        if campaign is not None or half_db is not None or now is not None:
            raise FigureError(
                "--chance stands alone: leave out the campaign, the curve and --watts"
            )
        facts = delivery_by_chance(mode, chance / 100.0, wishes)
    else:
        subject = _subject(campaign, condition, receiver, (mode, half_db, ninety_db))
        facts = delivery_of(subject, wishes)
    typer.echo(delivery_text(facts))
    for path in write_delivery(facts, out) if out is not None else ():
        typer.echo(path)


def _subject(
    campaign: Path | None,
    condition: str | None,
    receiver: str | None,
    by_hand: tuple[str, float | None, float | None],
) -> "Subject":
    from solidcopy.actions.decide.subject import read_subject, subject_by_hand

    mode, half_db, ninety_db = by_hand
    if campaign is not None:
        if half_db is not None or ninety_db is not None:
            raise FigureError("give a campaign, or a curve by --half-db and --ninety-db, not both")
        return read_subject(campaign, condition, receiver)
    if half_db is None or ninety_db is None:
        raise FigureError(
            "say which curve: give a campaign, or --half-db and --ninety-db, the SNR in 2500 Hz at "
            "which 50 and 90 % get through"
        )
    return subject_by_hand(mode, half_db, ninety_db)


def _measured(
    level_dbm: float | None, bandwidth_hz: float | None, error_db: float
) -> "Measured | None":
    from solidcopy.actions.decide.noise import Measured

    if level_dbm is None and bandwidth_hz is None:
        return None
    if level_dbm is None or bandwidth_hz is None:
        raise FigureError(
            "a noise level needs its bandwidth: give --noise-dbm and --noise-hz together"
        )
    return Measured(level_dbm, bandwidth_hz, error_db)


def _numbers(text: str) -> tuple[float, ...]:
    try:
        return tuple(float(part) for part in text.split(","))
    except ValueError:
        raise FigureError(f'"{text}" is no list of minutes; write it like 2,5,10') from None
