"""`solidcopy` with its patience for slow clients cut, so that a test need not wait as long."""

from solidcopy.cli.main import main
from solidcopy.web import body, protocol

PATIENCE_S = 1.0

if __name__ == "__main__":
    body.PATIENCE_S = PATIENCE_S
    protocol.HEAD_WITHIN_S = PATIENCE_S
    main()
