PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
# What is installed is pinned with the hash of every wheel; the project itself comes from here.
INSTALL := $(BIN)/python -m pip install -q --disable-pip-version-check
# What is compiled is kept, whatever the shell says: tests start some hundred programs, each of which
# would compile all modules anew, and each worker would rewrite the asserts of all tests.
export PYTHONDONTWRITEBYTECODE :=
# Four files at a time, in the order that tests/conftest.py gives them: what flies mostly waits.
PYTEST := $(BIN)/pytest -q --dist loadfile --no-loadscope-reorder

.PHONY: run test quick check fix bench sbom clean

# Another bundled flight: make run FLIGHT=messenger
run: $(VENV)/ready
	$(strip $(BIN)/groundstation run $(if $(FLIGHT),--flight $(FLIGHT)))

test: check
	$(PYTEST) -n 4

# The inner loop: all but what flies in real time, or starts a station, a browser, a broker, a disk.
# What takes longest is told at its end: it may belong among the slow ones.
quick: check
	$(PYTEST) -n 4 --hypothesis-profile quick --durations 5 --durations-min 3 -m "not slow and not live"

fix: $(VENV)/ready-to-test
	$(BIN)/ruff check --fix-only .
	$(BIN)/ruff format .

check: $(VENV)/ready-to-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(VENV)/ready-to-test
	$(BIN)/python -m benchmarks

# What is in it, as CycloneDX 1.6 in JSON.
sbom: $(VENV)/bin/python
	$(INSTALL) cyclonedx-bom==7.5.0
	$(BIN)/cyclonedx-py requirements .ci/locked.txt --of JSON -o sbom.json

clean:
	rm -rf $(VENV)

$(VENV)/bin/python:
	$(PYTHON) -m venv $(VENV)

$(VENV)/ready: $(VENV)/bin/python pyproject.toml .ci/locked.txt
	$(INSTALL) --require-hashes -r .ci/locked.txt
	$(INSTALL) --no-deps --no-build-isolation -e .
	touch $@

$(VENV)/ready-to-test: $(VENV)/bin/python pyproject.toml .ci/locked-test.txt .ci/locked-schemas.txt
	$(INSTALL) --require-hashes -r .ci/locked-test.txt
	$(INSTALL) --require-hashes --no-deps -r .ci/locked-schemas.txt
	$(INSTALL) --no-deps --no-build-isolation -e .
	touch $@
