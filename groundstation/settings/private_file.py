"""Files that nobody but their owner may read."""

import os
from pathlib import Path


def write_private(path: Path, data: bytes) -> None:
    """Write ``data`` where nobody else reads it; a crash leaves the old or the new whole.

    Raises ``OSError``.
    """
    new = path.with_name(f"{path.name}.new")
    new.unlink(missing_ok=True)
    handle = os.open(new, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
    with os.fdopen(handle, "wb") as file:
        file.write(data)
        file.flush()
        os.fsync(file.fileno())
    new.replace(path)
