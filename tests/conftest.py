"""Options of the test run."""


def pytest_addoption(parser):
    parser.addoption(
        "--portraits",
        action="store_true",
        help="write screenshots of the browser's pages into docs/images/bench",
    )
