"""What estimates free stays with the process: held against the kernel's own count of pages."""

import platform
import subprocess
import sys

import pytest

COUNTED = """
import resource, sys
import numpy as np
from groundstation.station.heap import keep_freed

if sys.argv[1] == "kept":
    keep_freed()

def estimate():
    return sum(float(array[0]) for array in [np.ones(1 << 17) for _ in range(8)])

estimate()
before = resource.getrusage(resource.RUSAGE_SELF).ru_minflt
for _ in range(20):
    estimate()
print(resource.getrusage(resource.RUSAGE_SELF).ru_minflt - before)
"""


def pages_mapped_again(how: str) -> int:
    done = subprocess.run(
        [sys.executable, "-c", COUNTED, how], capture_output=True, text=True, check=True
    )
    return int(done.stdout)


@pytest.mark.skipif(platform.libc_ver()[0] != "glibc", reason="only glibc gives memory back so")
def test_the_next_estimate_finds_the_memory_of_the_last() -> None:
    assert 5 * pages_mapped_again("kept") < pages_mapped_again("given back")
