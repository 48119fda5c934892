# Everything runs in .venv, made from requirements.lock by `make setup` (the other targets call it).
.DEFAULT_GOAL := help
SHELL := /bin/bash
PYTHON ?= $(shell command -v python3.11 || command -v python3)
VENV := .venv
RUN := $(VENV)/bin/python
STAMP := $(VENV)/.installed
WORKERS ?= auto
HOST ?= 127.0.0.1
PORT ?= 8000

.PHONY: help setup demo demo-reset phone test check bench locales flows

help: ## this list
	@grep -hE '^[a-z-]+:.*## ' $(MAKEFILE_LIST) | awk -F':.*## ' '{printf "  make %-12s %s\n", $$1, $$2}'

setup: $(STAMP) ## the environment only

$(STAMP): requirements.lock
	@$(PYTHON) -c 'import sys; sys.exit(0 if sys.version_info >= (3, 11) else "Python 3.11 or later is needed; name one: make setup PYTHON=/path/to/python3.11")'
	test -x $(RUN) || $(PYTHON) -m venv $(VENV)
	$(RUN) -m pip install --quiet --disable-pip-version-check --require-hashes -r requirements.lock
	@touch $(STAMP)

demo: setup ## Larkwater County on this machine: practice phone and agents' pages (HOST=, PORT=)
	@exec $(RUN) -m guide_service demo --host $(HOST) --port $(PORT)

demo-reset: setup ## the same, started over
	@exec $(RUN) -m guide_service demo --reset --host $(HOST) --port $(PORT)

phone: setup ## a practice phone in the terminal, for a demo that runs
	@exec $(RUN) -m guide_service phone --address http://$(HOST):$(PORT)

test: setup ## every test; what was skipped is listed with its reason
	$(RUN) -m pytest -n $(WORKERS) -q $(PYTEST_ARGS)

check: setup ## format, lint, types, import contracts
	$(VENV)/bin/ruff check .
	$(VENV)/bin/ruff format --check .
	$(RUN) -m mypy guide_service
	$(VENV)/bin/lint-imports

bench: setup ## every benchmark: one table, and tests/bench/results.json
	$(RUN) -m tests.bench

locales: setup ## check the texts and their translations
	$(RUN) -m guide_service locales check

flows: setup ## check the conversation flows
	$(RUN) -m guide_service flows
