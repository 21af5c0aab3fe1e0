"""Arrays in one file that is mapped into memory: one line of JSON, filled up with blanks to a
multiple of eight bytes, names them and says whose data it is; they follow, little-endian."""

import json
import math
from collections.abc import Mapping
from pathlib import Path
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from groundstation.errors import InputFileError

Head = dict[str, Any]

LONGEST_HEAD: Final = 1_000_000  # bytes; own choice, against a file of another kind


def packed(head: Head, arrays: Mapping[str, NDArray[Any]]) -> bytes:
    """The file's bytes."""
    little = {name: array.astype(array.dtype.newbyteorder("<")) for name, array in arrays.items()}
    layout = [[name, array.dtype.str, list(array.shape)] for name, array in little.items()]
    text = json.dumps(head | {"arrays": layout}, ensure_ascii=False).encode()
    filling = b" " * (-(len(text) + 1) % 8)
    return b"".join([text, filling, b"\n", *(array.tobytes() for array in little.values())])


def read(path: Path, form: str) -> tuple[Head, dict[str, NDArray[Any]]]:
    """Its head and arrays. Raises ``InputFileError`` for what is not of this form, or cut off."""
    try:
        data = np.memmap(path, dtype=np.uint8, mode="r")
        with path.open("rb") as file:
            line = file.readline(LONGEST_HEAD)
        head = json.loads(line)
        if head["form"] != form:
            raise ValueError(f"it is of the form {head['form']!r}")
        arrays: dict[str, NDArray[Any]] = {}
        at = len(line)
        for name, kind, shape in head["arrays"]:
            dtype = np.dtype(kind)
            end = at + dtype.itemsize * math.prod(shape)
            if dtype.hasobject or end > len(data):
                raise ValueError("it is cut off")
            arrays[name] = data[at:end].view(dtype).reshape(shape)
            at = end
    except (OSError, ValueError, KeyError, TypeError, RecursionError) as error:
        raise InputFileError(
            f"{path} is no file of {form.split(maxsplit=1)[0]} ({error}); make it anew with"
            " groundstation prepare"
        ) from error
    return head, arrays
