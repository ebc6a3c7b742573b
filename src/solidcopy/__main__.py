"""`python -m solidcopy`: the same as the command."""

from solidcopy.cli.main import main

main()
