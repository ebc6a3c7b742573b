"""`solidcopy plan`: write, check and describe plan files."""

import json
from pathlib import Path
from typing import Annotated

import typer

from solidcopy.actions.new_plan import QUESTIONS, Question

app = typer.Typer(no_args_is_help=True, help="Write, check and describe plan files.")


@app.command("new")
def new(
    question: Annotated[
        Question, typer.Argument(help=f"What you want to know: {', '.join(Question)}.")
    ],
    out: Annotated[Path, typer.Option("--out", help="Where to write it.")] = Path("plan.toml"),
    recording: Annotated[
        Path | None, typer.Option("--recording", help="Your own noise (WAV or FLAC).")
    ] = None,
    replace: Annotated[bool, typer.Option("--replace", help="Overwrite the file.")] = False,
) -> None:
    """Write a commented starting plan for a question."""
    from solidcopy.actions.new_plan import write_new_plan

    for note in write_new_plan(question, out, recording=recording, may_replace=replace):
        typer.echo(f"{recording}: {note}")
    typer.echo(f"{out}: {QUESTIONS[question]}")
    typer.echo(f"next: edit it, then  solidcopy run {out}")


@app.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="A plan file (TOML).")],
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Check a plan and say what it asks for. Also how many trials that takes."""
    from solidcopy.actions.check_plan import check_plan

    summary = check_plan(file)
    typer.echo(json.dumps(summary.as_dict(), indent=2) if as_json else summary.text())


@app.command("trials")
def trials(
    file: Annotated[Path, typer.Argument(help="A plan file (TOML).")],
    *,
    half_width_db: Annotated[
        float | None,
        typer.Option("--half-width-db", help="Wished: each threshold to ± so much (95 %)."),
    ] = None,
    difference_db: Annotated[
        float | None,
        typer.Option("--difference-db", help="Wished: a difference of this size is found."),
    ] = None,
    p: Annotated[float, typer.Option("--p", help="Share of messages at the threshold.")] = 0.5,
    power: Annotated[
        float, typer.Option("--power", help="Probability of finding the difference.")
    ] = 0.9,
    risk: Annotated[
        float, typer.Option("--risk", help="Of finding a difference where there is none.")
    ] = 0.05,
    workers: Annotated[
        int | None, typer.Option("--workers", help="Processes; one for each processor.")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Say how many trials a wished answer takes. Also how long they take on this machine."""
    from solidcopy.actions.plan_trials import Goal, plan_trials
    from solidcopy.actions.trials_words import needed_dict, needed_text

    goal = Goal(half_width_db, difference_db, p, power, risk)
    needed = plan_trials(file, goal, n_workers=workers)
    typer.echo(json.dumps(needed_dict(needed)) if as_json else needed_text(needed))


@app.command("schema")
def schema(
    out: Annotated[Path | None, typer.Option("--out", help="Write to a file.")] = None,
) -> None:
    """Print the JSON Schema of plan files."""
    from solidcopy.actions.check_plan import plan_schema

    text = json.dumps(plan_schema(), indent=2)
    if out is None:
        typer.echo(text)
    else:
        out.write_text(text + "\n", encoding="utf-8")
