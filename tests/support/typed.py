"""What a person types, done in this process: to start another takes longer than most commands."""

import contextlib
import io
import logging
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path
from unittest import mock

from groundstation.cli import main


def typed(
    *words: str | Path, folder: Path | None = None, given: str = ""
) -> subprocess.CompletedProcess[str]:
    """``groundstation`` with ``words``, in ``folder``, with ``given`` as its standard input. Not
    for ``run`` beyond its options: that sets the log and the mask of new files of all the process.
    """
    argv = ["groundstation", *map(str, words)]
    out, err, code = _stream(), _stream(), 0
    with (
        mock.patch.object(sys, "argv", argv),
        mock.patch.object(sys, "stdin", _stream(given)),
        contextlib.chdir(folder or Path()),
        contextlib.redirect_stdout(out),
        contextlib.redirect_stderr(err),
        _log_as_before(),
    ):
        try:
            main()
        except SystemExit as stop:
            code = stop.code if isinstance(stop.code, int) else int(bool(stop.code))
    return subprocess.CompletedProcess(argv, code, _text(out), _text(err))


@contextlib.contextmanager
def _log_as_before() -> Iterator[None]:
    """Some commands set the log of their process, and later tests read what is in theirs."""
    root = logging.getLogger()
    level, handlers = root.level, list(root.handlers)
    try:
        yield
    finally:
        root.setLevel(level)
        root.handlers[:] = handlers


def _stream(text: str = "") -> io.TextIOWrapper:
    """With bytes under it, as a command may want them."""
    return io.TextIOWrapper(io.BytesIO(text.encode()), encoding="utf-8")


def _text(stream: io.TextIOWrapper) -> str:
    stream.flush()
    assert isinstance(stream.buffer, io.BytesIO)
    return stream.buffer.getvalue().decode()
