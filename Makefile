# `make demo` and `make test` need nothing done before them: the first run sets up .venv (see .ci/prepare).

SHELL := /bin/sh
.DEFAULT_GOAL := help
.DELETE_ON_ERROR:
.PHONY: help demo test fuzz bench mutants lint types format lock clean FORCE

PYTHON_IN_VENV := .venv/bin/python
FILLMARK := .venv/bin/fillmark
READY := .venv/ready
EVERY_DOCUMENT := checklist data-sheet dossier training competency record

help:
	@echo "make demo    check the demo laboratory's methods and make their papers in out/"
	@echo "make test    run every test"
	@echo "make bench   measure speed and memory as ratios to yardsticks; nothing else running (ROWS=, QUICK=1)"
	@echo "make mutants change the source, one thing at a time, and see if a test notices (SAMPLE=, SEED=, FILES=)"
	@echo "make fuzz    look for input that breaks the program (SECONDS=60, SEED=)"
	@echo "make lint    ruff: rules and format"
	@echo "make types   mypy, strict"
	@echo "make format  let ruff rewrite the format"
	@echo "make lock    write the lock files anew from pyproject.toml (UPGRADE=1: newest versions)"
	@echo "make clean   remove what was built; .venv stays"

# The stamp holds the folder it was made for: an editable install breaks when the checkout is moved or copied.
ifneq ($(CURDIR),$(shell cat $(READY) 2>/dev/null))
$(READY): FORCE
endif
$(READY): requirements-dev.lock pyproject.toml .ci/prepare
	@bash .ci/prepare

demo: $(READY)
	$(FILLMARK) check methods
	$(FILLMARK) build methods --out out $(EVERY_DOCUMENT:%=--document %)
	$(FILLMARK) library methods --out out/library
	$(PYTHON_IN_VENV) -m fillmark.rule_pages out/rules
	@echo "Open one of these; the .html in a browser, the .pdf on paper:"
	@find out -path out/rules -prune -o \( -name '*.html' -o -name '*.pdf' \) -print | sort | sed 's/^/  /'

test: $(READY)
	$(PYTHON_IN_VENV) -m pytest --numprocesses auto

ROWS :=
QUICK :=

bench: $(READY)
	$(PYTHON_IN_VENV) .ci/bench $(if $(ROWS),--only $(ROWS)) $(if $(QUICK),--quick --rounds 3)

SAMPLE := 100
SEED :=
FILES := $(wildcard $(addprefix compiler/fillmark/,physics/*.py rules/*.py derive/*.py))

mutants: $(READY)
	$(PYTHON_IN_VENV) .ci/mutate --sample $(SAMPLE) $(if $(SEED),--seed $(SEED)) $(FILES)

SECONDS := 60
FUZZER := .venv/fuzz

# Beside the locked packages, not among them: nobody needs it who does not fuzz.
fuzz: $(READY)
	@test -d $(FUZZER) || $(PYTHON_IN_VENV) -m pip install --quiet --disable-pip-version-check --target $(FUZZER) 'atheris>=3,<4'
	PYTHONPATH=$(FUZZER) nice -n 15 $(PYTHON_IN_VENV) .ci/fuzz --seconds $(SECONDS) --seed $(or $(SEED),0) --kept .fuzz

lint: $(READY)
	$(PYTHON_IN_VENV) -m ruff check .
	$(PYTHON_IN_VENV) -m ruff format --check .

types: $(READY)
	$(PYTHON_IN_VENV) -m mypy

format: $(READY)
	$(PYTHON_IN_VENV) -m ruff format .

LOCK := $(PYTHON_IN_VENV) -m uv pip compile --quiet --universal --python-version 3.11 --generate-hashes \
	--custom-compile-command "make lock" $(if $(UPGRADE),--upgrade) pyproject.toml

lock: $(READY)
	$(PYTHON_IN_VENV) -m pip install --quiet 'uv==0.13.*'
	$(LOCK) --output-file requirements.lock
	$(LOCK) --extra dev --constraints requirements.lock --output-file requirements-dev.lock

clean:
	find out -mindepth 1 ! -path out/README.md -delete
	rm -rf dist .mypy_cache .pytest_cache .ruff_cache .hypothesis .fuzz .coverage
	find compiler tests -name __pycache__ -type d -prune -exec rm -rf {} +
