# Lapwright: everything a person runs in this repository. `make help` lists it.

PYTHON ?=
VENV := .venv
BIN := $(VENV)/bin
STAMP := $(VENV)/.locked
# Soak: the random tests with this many times the draws; 10 is meant to end within 40 minutes on two cores.
SOAK ?= 10
COMPILE := $(BIN)/uv pip compile --universal --python-version 3.11 --generate-hashes --no-annotate \
	--custom-compile-command "make lock" --quiet

.DEFAULT_GOAL := help
.PHONY: help setup demo test lint soak bench docs lock clean

help: ## List these targets.
	@sed -n 's/^\([a-z]*\):.*## /\1	/p' $(MAKEFILE_LIST) | expand -t 10

setup: ## Make .venv with the locked libraries and this package. Again: nothing to do, under a second.
	@bash .ci/setup "$(PYTHON)" $(VENV) $(STAMP)

demo: setup ## Plan the demo house and write its packet to examples/demo/packet.
	@$(BIN)/lapwright packet examples/demo

lint: setup ## Style, types and the floors' import contracts.
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/lint-imports

test: lint ## Everything that must hold: lint, doctests, tests, the built wheel with the sources away.
	$(BIN)/pytest -n 2 --doctest-modules src tests

soak: lint ## The same tests with SOAK=10 times the random draws.
	LAPWRIGHT_SOAK=$(SOAK) $(BIN)/pytest -n 2 --doctest-modules src tests

bench: setup ## Speeds as ratios to a named peer in the same run, drawn length beside its bounds. Judges nothing.
	@$(BIN)/python -m bench

docs: setup ## Write docs/commands.md anew from the command line's own help.
	@$(BIN)/python tests/repo/reference.py > docs/commands.md

lock: setup ## Refresh requirements.txt and requirements-dev.txt from pyproject.toml.
	$(COMPILE) --upgrade pyproject.toml -o requirements.txt
	$(COMPILE) --upgrade --extra dev --constraint requirements.txt pyproject.toml -o requirements-dev.txt

clean: ## Remove everything that the targets above made.
	rm -rf $(VENV) build dist src/*.egg-info examples/*/packet
	rm -rf .pytest_cache .mypy_cache .ruff_cache .hypothesis .import_linter_cache
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
