"""A real IMAP server on loopback: Dovecot, with one mailbox in a folder."""

import imaplib
import os
import pwd
import shutil
import signal
import subprocess
import tempfile
import time
from pathlib import Path
from types import TracebackType
from typing import Self

import pytest

from tests.support.mosquitto import free_port

START_LIMIT_S = 240.0
USER, PASSWORD = "kanalas", "right-one"


class Dovecot:
    """Serves the user ``kanalas``. Skips where Dovecot is missing or we are not root, and fails
    there where the variable CI is set."""

    def __init__(self, folder: Path) -> None:
        program = shutil.which("dovecot", path=f"{os.environ.get('PATH', '')}:/usr/sbin")
        if program is None or os.geteuid() != 0:
            missing = "Dovecot is not installed, or we are not root"
            if os.environ.get("CI"):
                pytest.fail(missing)
            pytest.skip(missing)
        self._program = program
        self._process: subprocess.Popen[bytes] | None = None
        self.port = free_port()
        self._folder = folder
        # A socket's path must fit into 107 bytes (unix(7)), and Dovecot's own users must be able to
        # come here: a folder of pytest's is long, and closed again when another pytest starts.
        self._own = Path(tempfile.mkdtemp(prefix="imap-", dir="/tmp"))
        self._own.chmod(0o711)
        folder.mkdir(parents=True, exist_ok=True)
        mail = self._own / "mail"
        mail.mkdir()
        owner = pwd.getpwnam("mail")
        os.chown(mail, owner.pw_uid, owner.pw_gid)
        self._configuration = folder / "dovecot.conf"
        self._configuration.write_text(f"""
base_dir = {self._own}/run
protocols = imap
listen = 127.0.0.1
ssl = no
disable_plaintext_auth = no
log_path = {folder}/dovecot.log
mail_location = maildir:{mail}
first_valid_uid = 1
passdb {{
  driver = static
  args = password={PASSWORD}
}}
userdb {{
  driver = static
  args = uid=mail gid=mail home={mail}
}}
service imap-login {{
  inet_listener imap {{
    port = {self.port}
  }}
  inet_listener imaps {{
    port = 0
  }}
}}
""")

    def start(self) -> None:
        """Start it and wait until it lets us in."""
        self._process = subprocess.Popen(
            [self._program, "-F", "-c", str(self._configuration)], start_new_session=True
        )
        until = time.monotonic() + START_LIMIT_S
        while time.monotonic() < until:
            try:
                self.client().logout()
            except (OSError, imaplib.IMAP4.error):
                time.sleep(0.05)
            else:
                return
        log = self._folder / "dovecot.log"
        pytest.fail(f"Dovecot did not start:\n{log.read_text() if log.exists() else ''}")

    def client(self) -> imaplib.IMAP4:
        client = imaplib.IMAP4("127.0.0.1", self.port, timeout=60.0)
        client.login(USER, PASSWORD)
        return client

    def put(self, mail: bytes) -> None:
        """Put a new mail into the inbox."""
        client = self.client()
        state, _ = client.append("INBOX", "", "", mail)
        assert state == "OK"
        client.logout()

    def unseen(self) -> int:
        client = self.client()
        client.select("INBOX", readonly=True)
        _, (found,) = client.uid("SEARCH", "UNSEEN")
        client.logout()
        return len(found.split())

    def stop(self) -> None:
        """End it as a power cut would."""
        if self._process is not None:
            # With those that serve the open connections: they would go on without their master.
            os.killpg(self._process.pid, signal.SIGKILL)
            self._process.wait(START_LIMIT_S)
            self._process = None
            (self._own / "run" / "master.pid").unlink(missing_ok=True)

    def __enter__(self) -> Self:
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()
        shutil.rmtree(self._own, ignore_errors=True)
