"""`solidcopy noise`: what a recorded noise is, what it costs, and what made it."""

import typer

from solidcopy.cli.noise_compare import compare
from solidcopy.cli.noise_cost import cost
from solidcopy.cli.noise_parts import parts
from solidcopy.cli.noise_slots import slots
from solidcopy.cli.noise_twin import twin

app = typer.Typer(no_args_is_help=True, help="Look into a recorded noise, and say what it costs.")
app.command("cost")(cost)
app.command("slots")(slots)
app.command("compare")(compare)
app.command("parts")(parts)
app.command("twin")(twin)


@app.callback()
def options() -> None:
    """Look into a recorded noise, and say what it costs."""
