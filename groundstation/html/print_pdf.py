"""A page as PDF, printed by a browser that is on this machine."""

import os
import shutil
import subprocess
import tempfile
from pathlib import Path
from typing import Final

from groundstation.errors import ConfigurationError

BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome")
"""Programs that know ``--print-to-pdf``."""

PATIENCE_S: Final = 120.0  # own choice: a browser that begins on a Pi


def write_pdf(page: Path, out: Path) -> None:
    """Print ``page`` to ``out``. Raises ``ConfigurationError`` where no browser does it."""
    browser = next(filter(None, map(shutil.which, BROWSERS)), None)
    if browser is None:
        raise ConfigurationError(
            f"no browser that can print is on this machine ({', '.join(BROWSERS)}); open {page} in"
            " any browser and print it there"
        )
    with tempfile.TemporaryDirectory(prefix="groundstation-print-") as profile:
        printed = Path(profile) / "page.pdf"
        order = [
            browser, "--headless", "--disable-gpu", "--no-first-run", "--no-pdf-header-footer",
            f"--user-data-dir={profile}", f"--print-to-pdf={printed}",
            *(["--no-sandbox"] if os.geteuid() == 0 else []), page.absolute().as_uri(),
        ]  # fmt: skip
        try:
            done = subprocess.run(order, capture_output=True, timeout=PATIENCE_S, check=False)
        except (OSError, subprocess.TimeoutExpired) as error:
            raise ConfigurationError(f"{browser} did not print {page}: {error}") from error
        if not printed.exists():
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()
            raise ConfigurationError(
                f"{browser} did not print {page}: {said[-1] if said else done.returncode};"
                " open it in any browser and print it there"
            )
        try:
            shutil.copyfile(printed, out)
        except OSError as error:
            raise ConfigurationError(f"cannot write {out}: {error.strerror}") from error
