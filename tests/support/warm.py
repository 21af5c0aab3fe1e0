"""The command line without its start: a process that has imported everything forks for each call.

A scoring program calls the replay command some hundred times; what it does is the same, but for the
second that each start takes. ``python -m tests.support.warm SOCKET`` serves; what is called is
``python -S -E tests/support/warm.py SOCKET WORDS``, which imports nothing of the project. What is
told of FLIGHT.csv is also left in FLIGHT.jsonl of the folder ``KEPT_IN`` of the environment, unless
there is one.
"""

import array
import json
import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

HELD = 4  # the bytes of a file descriptor


def call(at: str, words: list[str]) -> int:
    """Let ``words`` be done with our standard output and error; gives the exit code."""
    with socket.socket(socket.AF_UNIX) as server:
        server.connect(at)
        ours = array.array("i", [1, 2])
        told = {"words": words, "folder": str(Path.cwd()), "kept_in": os.environ.get("KEPT_IN")}
        text = json.dumps(told).encode()
        server.sendmsg([text], [(socket.SOL_SOCKET, socket.SCM_RIGHTS, ours)])
        server.shutdown(socket.SHUT_WR)
        return int(server.recv(16) or b"1")


def serve(at: str) -> None:
    from groundstation.cli import main  # noqa: PLC0415  (the caller must not import it)
    from groundstation.commands import replay  # noqa: F401, PLC0415
    from groundstation.jobs import replay as job  # noqa: F401, PLC0415

    # Nobody waits for those that have ended.
    signal.signal(signal.SIGCHLD, signal.SIG_IGN)
    with socket.socket(socket.AF_UNIX) as server:
        server.bind(at)
        server.listen()
        while True:
            caller, _ = server.accept()
            if os.fork():
                caller.close()
                continue
            text, rights, *_ = caller.recvmsg(1 << 16, socket.CMSG_SPACE(2 * HELD))
            out, err = array.array("i", rights[0][2])
            told = json.loads(text)
            kept = keeping(told["kept_in"], told["words"])
            os.dup2(out if kept is None else os.open(kept, os.O_CREAT | os.O_WRONLY), 1)
            os.dup2(err, 2)
            os.chdir(told["folder"])
            sys.argv = ["groundstation", *told["words"]]
            code = 0
            try:
                main()
            except SystemExit as end:
                code = end.code if isinstance(end.code, int) else int(bool(end.code))
            sys.stdout.flush()
            sys.stderr.flush()
            if kept is not None:
                with os.fdopen(out, "wb") as stream:
                    stream.write(kept.read_bytes())
            caller.sendall(str(code).encode())
            os._exit(0)


def keeping(folder: str | None, words: list[str]) -> Path | None:
    """Where what is told is kept as well."""
    flight = next((Path(word) for word in words if word.endswith(".csv")), None)
    if folder is None or flight is None:
        return None
    kept = Path(folder) / f"{flight.stem}.jsonl"
    return None if kept.exists() else kept


@contextmanager
def warm(folder: Path) -> Iterator[str]:
    """A command that does what ``groundstation`` does, sooner."""
    at = folder / "warm"
    with subprocess.Popen([sys.executable, "-m", "tests.support.warm", str(at)]) as server:
        try:
            while not at.exists():
                assert server.poll() is None
                time.sleep(0.05)
            yield f"{sys.executable} -S -E {Path(__file__)} {at}"
        finally:
            server.kill()


if __name__ == "__main__":
    if len(sys.argv) == 2:
        serve(sys.argv[1])
    sys.exit(call(sys.argv[1], sys.argv[2:]))
