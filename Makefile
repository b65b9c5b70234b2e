# One environment, .venv, serves every target: scripts/set-up.sh makes it when the lock or pyproject.toml has changed.
# PYTHON chooses the interpreter (3.11, 3.12 or 3.13). Named by the caller it is binding; otherwise .venv keeps its own.
PYTHON ?= python3
UV ?= uv
BIN := .venv/bin
# A test on each of up to four cores; tests/conftest.py says which of them stay together.
TESTED := -q --numprocesses auto --maxprocesses 4 --no-loadscope-reorder

.DEFAULT_GOAL := help
.PHONY: help set-up demo pictures validation docs test fuzz check bench estimates lock clean

help: ## list these targets
	@awk -F ':.*## ' '/^[a-z-]+:.*## / { printf "make %-10s %s\n", $$1, $$2 }' Makefile
	@echo "PYTHON=python3.12 and the like choose the interpreter; trivet itself is then $(BIN)/trivet"

set-up: ## make .venv ready, as demo and test do by themselves
	@sh scripts/set-up.sh "$(PYTHON)" $(if $(filter file,$(origin PYTHON)),,--exactly)

demo: set-up ## run the study that ships and say where its report lies
	$(BIN)/trivet run studies/library/culture-bench.toml

pictures: set-up ## the README's pictures, drawn anew from the demo
	$(BIN)/trivet run studies/library/culture-bench.toml --out results/pictures
	mkdir -p docs/pictures
	cp results/pictures/figures/section.png docs/pictures/section.png
	cp results/pictures/figures/profile.png docs/pictures/margin.png

check: set-up ## formatter, linter, types and the fast tests
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python -m pytest $(TESTED) -m "not slow"

test: set-up ## everything that CI runs: check, and the slow tests too
	$(BIN)/ruff format --check .
	$(BIN)/ruff check .
	$(BIN)/mypy
	$(BIN)/python -m pytest $(TESTED)

# Other files with SEED=2 and so on; what SEED and a mutant's number make is always the same file.
fuzz: set-up ## 10,000 spoilt study files: read or refused, some of them solved; SEED=2 spoils others; half an hour
	MUTANTS=10000 SOLVED=$(or $(SOLVED),200) COMMANDS=30 SEED=$(or $(SEED),1) \
		$(BIN)/python -m pytest -q -s tests/studies/test_mutated_studies.py

validation: set-up ## docs/validation.md, written anew by the checks against published values
	$(BIN)/python -m tests.published.table

docs: set-up ## the documentation site in build/docs, warnings are errors; it needs no network
	$(BIN)/python -m sphinx -n -W --keep-going -q docs build/docs
	@echo "Site: build/docs/index.html"

bench: set-up ## timed work; its figures hold for this machine only
	@if [ -f benchmarks/__main__.py ]; then $(BIN)/python -m benchmarks; else echo "There are no benchmarks yet."; fi

estimates: set-up ## stated errors of random designs against true ones: docs/error-estimates.md, resumable, up to half an hour
	OPENBLAS_NUM_THREADS=1 $(BIN)/python -m benchmarks.error_estimates

# --fork-strategy fewest: one version of numpy and scipy on every Python, so that no number hangs on the interpreter.
# Pins stay as they are; `make lock UPGRADE=--upgrade` moves them all.
lock: ## write requirements.lock anew from pyproject.toml (needs uv)
	@command -v $(UV) >/dev/null || { echo "make lock needs uv: python3 -m pip install uv, or UV=path/to/uv" >&2; exit 1; }
	$(UV) pip compile --quiet --universal --fork-strategy fewest --python-version 3.11 --extra dev --generate-hashes \
		--no-annotate --custom-compile-command "make lock" $(UPGRADE) --output-file requirements.lock pyproject.toml

clean: ## remove .venv and whatever the tools left behind; results stay
	rm -rf .venv build *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis .benchmarks
	find . -name __pycache__ -type d -prune -exec rm -rf {} +
