# Traywise: `make help` lists what can be made.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
SHELL := /bin/sh

.DEFAULT_GOAL := help
.PHONY: help setup setup-dev demo serve test lint bench lock clean

help: ## list the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:[^#]*## /\t/' | expand -t 14

# One stamp per lock file: setup does nothing when the environment already fits.
$(VENV)/use.stamp: requirements/use.txt pyproject.toml
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV)
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/use.txt
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --no-deps --no-build-isolation --editable .
	@touch $@

$(VENV)/dev.stamp: requirements/dev.txt $(VENV)/use.stamp
	@$(BIN)/python -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements/dev.txt
	@touch $@

setup: $(VENV)/use.stamp ## build .venv with everything for use

setup-dev: $(VENV)/dev.stamp ## setup, and what tests and checks need

demo: setup ## plan the demo session: board, trays, sheets and labels
	@$(BIN)/traywise demo out/demo

serve: setup ## the workbench on this machine, with the demo clinic
	@$(BIN)/traywise serve --demo

test: setup-dev lint ## all checks and tests
	@$(BIN)/python -m pytest -n 2 --dist loadfile

lint: setup-dev ## format, lint, types, layers
	@$(BIN)/ruff format --check --quiet .
	@$(BIN)/ruff check --quiet .
	@$(BIN)/mypy
	@mkdir -p build
	@$(BIN)/lint-imports --no-cache > build/layers.txt || { cat build/layers.txt; exit 1; }

bench: setup-dev ## measure speed and memory, as ratios within one run; BENCH=--full for all sizes
	@$(BIN)/python tools/bench.py $(BENCH)

lock: ## pin all dependencies anew, with hashes
	@$(BIN)/python -m pip install --quiet uv
	@$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate --no-emit-index-url \
		--extra population --extra workbench --extra exchange requirements/build.in pyproject.toml -o requirements/use.txt
	@$(BIN)/uv pip compile --quiet --universal --python-version 3.11 --generate-hashes --no-header --no-annotate --no-emit-index-url \
		--constraint requirements/use.txt --extra population --extra workbench --extra exchange --extra dev requirements/build.in pyproject.toml -o requirements/dev.txt

clean: ## remove what was made
	@rm -rf $(VENV) out build .pytest_cache .mypy_cache .ruff_cache .hypothesis
