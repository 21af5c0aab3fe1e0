#!/usr/bin/env bash
# Flies on aarch64, by Debian's user emulation, what flies here, and compares.
#
#   tools/on_aarch64.sh [RECORDING]
#
# Needs Debian's mmdebstrap and qemu-user-static, and a .venv of this checkout (make run). It unpacks
# Debian's Python for arm64 and the locked wheels for aarch64 into a folder of its own, which it
# removes at the end, replays a recording on both machines (an invented one, if none is given), and
# flies the rehearsal through the whole station on the emulated one until the payload is down.
set -euo pipefail
cd "$(dirname "$0")/.."
recording=${1:+$(realpath "$1")}
host=$PWD/.venv/bin
for program in mmdebstrap qemu-aarch64-static "$host/groundstation"; do
    command -v "$program" > /dev/null || { echo "$program is missing"; exit 1; }
done
if (exec 3<> /dev/tcp/127.0.0.1/8080) 2> /dev/null; then echo "something serves on port 8080"; exit 1; fi
folder=$(mktemp -d)
trap 'pkill -P "${station:-0}" || true; rm -rf "$folder"' EXIT

mmdebstrap --quiet --arch=arm64 --variant=extract bookworm "$folder/root" http://deb.debian.org/debian \
    --include=python3.11,libc6,libgcc-s1,libstdc++6,zlib1g,libssl3,libffi8,libsqlite3-0,libexpat1,libbz2-1.0,liblzma5,libuuid1,libcrypt1,tzdata,media-types \
    2> "$folder/debian.log" || { tail "$folder/debian.log"; exit 1; }
platforms=()
for age in 2_17 2_26 2_27 2_28 2_31; do platforms+=(--platform "manylinux_${age}_aarch64"); done
"$host/pip" install -qq --disable-pip-version-check --no-deps --require-hashes --only-binary=:all: \
    --target "$folder/site" "${platforms[@]}" --platform manylinux2014_aarch64 \
    --implementation cp --python-version 3.11 --abi cp311 --abi abi3 --abi none -r .ci/locked.txt
"$host/pip" wheel -qq --disable-pip-version-check --no-deps --no-build-isolation -w "$folder" .
"$host/python" -m zipfile -e "$folder"/groundstation-*.whl "$folder/site"
cd "$folder"
aarch64() {
    qemu-aarch64-static -L "$folder/root" -E PYTHONPATH="$folder/site" -E PYTHONDONTWRITEBYTECODE=1 \
        -E HOME="$folder" "$folder/root/usr/bin/python3.11" "$@"
}

aarch64 -c 'import platform, sys; print("emulated:", platform.machine(), "Python", sys.version.split()[0])'
aarch64 -m groundstation --version

if [ -z "$recording" ]; then
    recording=$folder/flight.csv
    "$host/groundstation" simulate --seed 5 --interval 180s --out "$recording"
fi
"$host/groundstation" replay "$recording" --json > here.json
aarch64 -m groundstation replay "$recording" --json > there.json
"$host/python" - << 'END'
import json
import math

here, there = ([json.loads(line) for line in open(name)] for name in ("here.json", "there.json"))
kinds = lambda told: [(one["kind"], one.get("title") or one.get("phase")) for one in told]
assert kinds(here) == kinds(there), "other events"
apart = [
    111_195.0 * math.hypot(a["lat"] - b["lat"], (a["lon"] - b["lon"]) * math.cos(math.radians(a["lat"])))
    for a, b in zip(here, there) if a["kind"] == "landing"
]
print(f"{len(here)} lines alike; {len(apart)} landing points apart by at most {max(apart):.3f} m")
END

aarch64 -m groundstation run --speed 10 > station.log 2>&1 &
station=$!
"$host/python" - << 'END'
import json
import time
import urllib.request

while True:
    time.sleep(5.0)
    try:
        with urllib.request.urlopen("http://127.0.0.1:8080/api/state", timeout=30.0) as answer:
            payload = json.load(answer)["payloads"][0]
    except OSError:
        continue
    if payload["phase"] == "landed":
        break
print("the rehearsal was flown there until it was down")
END
grep -E "^(Rehearsal|kanalas)" station.log | head -20 || true
