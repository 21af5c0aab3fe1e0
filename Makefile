PYTHON ?= python3
BIN := .venv/bin

.PHONY: run test check bench clean

run: .venv/ready
	$(BIN)/groundstation run

test: check
	$(BIN)/pytest -q

check: .venv/ready-to-test
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: .venv/ready-to-test
	$(BIN)/python -m benchmarks

clean:
	rm -rf .venv

.venv/bin/python:
	$(PYTHON) -m venv .venv

.venv/ready: .venv/bin/python pyproject.toml .ci/constraints.txt
	$(BIN)/python -m pip install -q -c .ci/constraints.txt -e .
	touch $@

.venv/ready-to-test: .venv/bin/python pyproject.toml .ci/constraints.txt
	$(BIN)/python -m pip install -q -c .ci/constraints.txt -e '.[test]'
	touch $@
