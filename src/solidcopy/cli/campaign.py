"""Commands on campaigns: run, resume, status, report, compare, remake, demo."""

import json
from pathlib import Path
from typing import Annotated

import typer

Source = Annotated[Path, typer.Argument(help="A campaign folder, or its plan file.")]
AsJson = Annotated[bool, typer.Option("--json", help="Print for a program.")]
Workers = Annotated[
    int | None, typer.Option("--workers", help="Processes; one for each processor if left out.")
]
Scheduler = Annotated[
    str | None,
    typer.Option(
        "--scheduler",
        help="Work on other machines: tcp://HOST:PORT or tls://HOST:PORT of a Dask scheduler.",
    ),
]
TlsCa = Annotated[
    Path | None, typer.Option("--tls-ca", help="Certificate of the authority of those machines.")
]
TlsCert = Annotated[Path | None, typer.Option("--tls-cert", help="Our certificate.")]
TlsKey = Annotated[Path | None, typer.Option("--tls-key", help="Our certificate's private key.")]
Patience = Annotated[
    float | None,
    typer.Option("--wait", help="Seconds to wait for workers of other machines; 60 if left out."),
]
RetryFailed = Annotated[
    bool, typer.Option("--retry-failed", help="Run trials again in which a receiver failed.")
]


def register(app: typer.Typer) -> None:
    """Add the commands of this module."""
    for command in (run, resume, status, report, compare, remake, demo):
        app.command(command.__name__)(command)


def run(
    plan: Annotated[Path, typer.Argument(help="A plan file, or a campaign folder to go on with.")],
    folder: Annotated[
        Path | None, typer.Option("--folder", help="Campaign folder; beside the plan if left out.")
    ] = None,
    *,
    workers: Workers = None,
    scheduler: Scheduler = None,
    tls_ca: TlsCa = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    wait: Patience = None,
    share: Annotated[
        str | None,
        typer.Option("--share", help='A part of the trials only, e.g. "1/2": to be merged later.'),
    ] = None,
    retry_failed: RetryFailed = False,
    as_json: AsJson = False,
) -> None:
    """Carry out a plan and write its report. Ctrl-C stops; the same command goes on."""
    from solidcopy.actions.elsewhere import Elsewhere
    from solidcopy.actions.run import RunOptions
    from solidcopy.campaigns.share import share_of
    from solidcopy.cli.live import carry_out

    elsewhere = Elsewhere(scheduler, tls_ca, tls_cert, tls_key, wait)
    part = None if share is None else share_of(share)
    carry_out(plan, RunOptions(folder, workers, retry_failed, elsewhere, part), as_json=as_json)


def resume(
    campaign: Source,
    *,
    workers: Workers = None,
    scheduler: Scheduler = None,
    tls_ca: TlsCa = None,
    tls_cert: TlsCert = None,
    tls_key: TlsKey = None,
    wait: Patience = None,
    retry_failed: RetryFailed = False,
    as_json: AsJson = False,
) -> None:
    """Go on with a campaign; the same as giving `run` again."""
    from solidcopy.actions.elsewhere import Elsewhere
    from solidcopy.actions.folder import existing_folder
    from solidcopy.actions.run import RunOptions
    from solidcopy.cli.live import carry_out

    existing_folder(campaign)
    elsewhere = Elsewhere(scheduler, tls_ca, tls_cert, tls_key, wait)
    carry_out(campaign, RunOptions(None, workers, retry_failed, elsewhere), as_json=as_json)


def status(campaign: Source, as_json: AsJson = False) -> None:
    """Say how far a campaign has come, running or not."""
    from solidcopy.actions.run import read_decisions, read_status
    from solidcopy.cli.live import progress_json
    from solidcopy.reports.decision_words import decision_sentences
    from solidcopy.reports.tables import plain_data
    from solidcopy.reports.terminal import progress_text, wrapped

    progress, decisions = read_status(campaign), read_decisions(campaign)
    if as_json:
        typer.echo(json.dumps({**progress_json(progress), "decisions": plain_data(decisions)}))
        return
    said = [wrapped(sentence) for sentence in decision_sentences(decisions)]
    typer.echo("\n".join([progress_text(progress), *said]))


def report(
    campaign: Source,
    out: Annotated[
        Path | None, typer.Option("--out", help="Folder; `report` in the campaign's if left out.")
    ] = None,
    with_pdf: Annotated[bool, typer.Option("--pdf", help="Write report.pdf besides.")] = False,
    as_json: AsJson = False,
) -> None:
    """Write the report of a campaign. One HTML page, tables and figures."""
    from solidcopy.cli.live import conclude

    conclude(campaign, out, with_pdf=with_pdf, as_json=as_json)


def compare(
    campaign: Source,
    name: Annotated[
        str, typer.Argument(help="A condition or a receiver of it; or another campaign.")
    ],
    against: Annotated[
        str | None, typer.Argument(help="Another condition or receiver to compare it with.")
    ] = None,
    *,
    within: Annotated[
        str | None, typer.Option("--within", help="The receiver (or condition) that both share.")
    ] = None,
    a: Annotated[
        str | None, typer.Option("--a", help="Of the first campaign: CONDITION/RECEIVER.")
    ] = None,
    b: Annotated[
        str | None, typer.Option("--b", help="Of the second campaign: CONDITION/RECEIVER.")
    ] = None,
    anyway: Annotated[
        str | None,
        typer.Option("--anyway", help="Why to compare two versions of a receiver; it is stated."),
    ] = None,
    as_json: AsJson = False,
) -> None:
    """Compare two curves of one campaign or of two. Condition or receiver may differ."""
    from solidcopy.actions.compare_any import Named, compare_any

    compared = compare_any(campaign, name, against, Named(within, a, b, anyway))
    typer.echo(json.dumps(compared.as_dict()) if as_json else compared.text)


def remake(
    campaign: Source,
    trial: Annotated[str, typer.Argument(help='E.g. "2@-19#7": condition, axis value, number.')],
    out: Annotated[Path, typer.Option("--out", help="Folder for the two files.")] = Path(),
) -> None:
    """Make the audio of one trial anew and prove its digest. Writes WAV and a JSON description."""
    from solidcopy.actions.remake import remake as remake_trial

    remade = remake_trial(campaign, trial, out=out)
    proof = "digest proved" if remade.is_proved else "not yet run: no digest to compare with"
    typer.echo(f"{remade.audio} ({proof})\n{remade.sidecar}")
    typer.echo("Play it into a cable or a file, never on the air; start quietly.")


def demo(
    folder: Annotated[Path, typer.Option("--folder", help="Where to put everything.")] = Path(
        "harbour"
    ),
    workers: Workers = None,
    as_json: AsJson = False,
) -> None:
    """Measure what a harbour's noises cost a club station. An invented scene; a few minutes."""
    from solidcopy.actions.demo import prepare_demo
    from solidcopy.actions.run import RunOptions
    from solidcopy.cli.live import carry_out

    plan = prepare_demo(folder)
    carry_out(plan, RunOptions(n_workers=workers), as_json=as_json)
