"""An outside program that behaves in one of many ways, told by its first argument.

Its layout: `copied CQ Q1ABC FN42 ; 1500.0 ; 0.1 ; -12`. It needs the standard library only and
writes the ids of its processes into the file that PIDS_FILE names.
"""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

GOOD = "copied CQ Q1ABC FN42 ; 1500.0 ; 0.1 ; -12\n"
CHILD = "import os, signal, time; signal.signal(signal.SIGTERM, signal.SIG_IGN); time.sleep(600)"


def note(pid):
    if "PIDS_FILE" in os.environ:
        with open(os.environ["PIDS_FILE"], "a", encoding="ascii") as file:
            file.write(f"{pid}\n")


def start_child(own_session):
    child = subprocess.Popen(
        [sys.executable, "-S", "-E", "-c", CHILD], start_new_session=own_session
    )
    note(child.pid)


def hang(*_):
    """Ignores what asks it to end; so do its children, one of which has left its group."""
    signal.signal(signal.SIGTERM, signal.SIG_IGN)
    start_child(own_session=False)
    start_child(own_session=True)
    print("still thinking", file=sys.stderr, flush=True)
    time.sleep(600)


def multiply(*_):
    """A family of 31 processes, each in a session of its own, while it grows and afterwards."""
    for _ in range(5):
        if os.fork() == 0:
            os.setsid()
            note(os.getpid())
    time.sleep(600)


def leave_child(*_):
    """Ends well, but leaves a process that keeps its output open."""
    start_child(own_session=True)
    sys.stdout.write(GOOD)


def good(*_):
    sys.stdout.write("started\n" + GOOD)


def tell(*arguments):
    """What it was given."""
    for text in (*arguments, os.getcwd(), *sorted(f"{k}={v}" for k, v in os.environ.items())):
        print(text)
    print(",".join(sorted(os.listdir("."))))


def count(*_):
    """Remembers, if it may, how often it was called."""
    memory = Path("memory.txt")
    calls = int(memory.read_text(encoding="ascii")) + 1 if memory.exists() else 1
    memory.write_text(str(calls), encoding="ascii")
    print(f"copied call {calls} ; 1500 ; 0 ; 0")


def answer_in_file(audio_file, answer_file):
    Path(answer_file).write_text(GOOD, encoding="ascii")
    print("see the file")


def answer_by_link(audio_file, answer_file):
    os.symlink("/dev/zero", answer_file)


def crash(*_):
    sys.stdout.write(GOOD)
    sys.stdout.flush()
    print(f"about to fall over in {os.getcwd()}", file=sys.stderr, flush=True)
    os.abort()


def strange(*_):
    sys.stdout.write(GOOD)
    sys.exit(77)


def flood(*_):
    while True:
        os.write(1, b"la la la la\n" * 1000)


def flood_errors(*_):
    while True:
        os.write(2, b"la la la la\n" * 1000)


def flood_file(audio_file, answer_file):
    with open(answer_file, "wb") as file:
        while True:
            file.write(b"la la la la\n" * 1000)


def wait(seconds, *_):
    time.sleep(float(seconds))
    sys.stdout.write(GOOD)


def garbage(*_):
    os.write(1, bytes(range(256)) * 4 + b"\n\xff\xfe copied \x1b[31m\n\ncopied half ; 15")
    os.write(1, b"00.0 ; 0.1 ; -12\n" + GOOD.encode() + b"copied CQ Q1A")


def greedy(*_):
    held = []
    while True:
        held.append(bytearray(b"x") * 10_000_000)


def greedy_family(*_):
    """Each process stays below the limit; together they do not."""
    code = "import time; held = bytearray(b'x') * 40_000_000; time.sleep(600)"
    for _ in range(4):
        note(subprocess.Popen([sys.executable, "-S", "-E", "-c", code]).pid)
    time.sleep(600)


def shut_folder(*_):
    """Leaves a folder that nobody may enter."""
    os.makedirs("shut/inside")
    Path("shut/inside/file").write_text("x", encoding="ascii")
    os.chmod("shut/inside", 0)
    os.chmod("shut", 0)


if __name__ == "__main__":
    note(os.getpid())
    globals()[sys.argv[1]](*sys.argv[2:])
