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

    write_new_plan(question, out, recording=recording, may_replace=replace)
    typer.echo(f"{out}: {QUESTIONS[question]}")
    typer.echo(f"next: edit it, then  solidcopy run {out}")


@app.command("check")
def check(
    file: Annotated[Path, typer.Argument(help="A plan file (TOML).")],
    as_json: Annotated[bool, typer.Option("--json", help="Print for a program.")] = False,
) -> None:
    """Check a plan and say what it asks for, and how many trials that takes."""
    from solidcopy.actions.check_plan import check_plan

    summary = check_plan(file)
    typer.echo(json.dumps(summary.as_dict(), indent=2) if as_json else summary.text())


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
