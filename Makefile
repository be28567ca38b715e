# Targets for people; `make help` lists them.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
MINUTES ?= 10

.DEFAULT_GOAL := help
.PHONY: help install demo docs test test-all check bench fuzz bench-table clean

help: ## say what each target does
	@grep -E '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | awk -F ':.*## ' '{printf "  make %-12s %s\n", $$1, $$2}'

$(READY): pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --editable '.[dev]'
	@touch $@

install: $(READY) ## make a virtual environment here and install the package with its tools

demo: $(READY) ## ride two builds over a shipped course; results go to out/demo
	$(BIN)/buildgap demo --out out/demo

docs: $(READY) ## make the reference, the lists and the pictures of the pages anew
	$(BIN)/python docs/make_file_reference.py
	$(BIN)/python docs/make_names.py
	$(BIN)/python docs/make_limits.py
	$(BIN)/python docs/make_pictures.py

test: $(READY) ## run the test suite (under five minutes)
	$(BIN)/python -m pytest

test-all: $(READY) ## run every test, the slow ones too
	$(BIN)/python -m pytest -m "slow or not slow"

check: $(READY) ## lint, format check, types and import floors
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

fuzz: $(READY) ## try the readers with spoilt files, MINUTES (10) for each kind
	$(BIN)/python -m pip install --quiet --target out/fuzz/atheris 'atheris>=3'
	for kind in csv tcx fit toml geojson hgt year gpx; do \
	  PYTHONPATH=out/fuzz/atheris $(BIN)/python tests/fuzz/fuzz_readers.py $$kind --minutes $(MINUTES); \
	done

bench: $(READY) ## measure speed beside a general-purpose reference
	$(BIN)/python -m pytest tests/benchmarks --benchmark-only --benchmark-columns=min,median,max,rounds -q

bench-table: $(READY) ## write docs/benchmarks.md: speed, memory and growth on this (quiet) machine
	$(BIN)/python tests/benchmarks/bench_table.py

clean: ## remove what was made here (environment, caches, results)
	rm -rf $(VENV) build dist out *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis .coverage .import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
