# Two commands set wellworn up from plain python3: `make demo` and `make test`. Each makes its own environment first.

PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
DEMO_FOLDER ?= .demo

.PHONY: demo test check bench smoke clean

demo: $(VENV)/ready
	@mkdir -p $(DEMO_FOLDER)
	@$(BIN)/wellworn --db $(DEMO_FOLDER)/demo.db demo

test: $(VENV)/ready-test
	$(BIN)/python -m pytest

check: $(VENV)/ready-check
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy

bench: $(VENV)/ready-bench
	$(BIN)/python -m tests.bench

# A demo run on every Python that is installed, each in an environment of its own.
smoke:
	@for version in 3.11 3.12 3.13; do \
	  for python in python$$version "$$(pyenv root 2>/dev/null)"/versions/$$version.*/bin/python; do \
	    "$$python" -c '' 2>/dev/null && break; python=; \
	  done; \
	  if [ -z "$$python" ]; then echo "Python $$version: not installed, left out"; continue; fi; \
	  $(MAKE) --no-print-directory demo PYTHON="$$python" VENV=.venv-$$version DEMO_FOLDER=.demo/$$version >.smoke.log 2>&1 \
	    && echo "Python $$version: the demo runs" || { cat .smoke.log; exit 1; }; \
	done; rm -f .smoke.log

$(VENV)/ready: pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit("wellworn needs Python 3.11 or newer, not " + sys.version.split()[0] if sys.version_info < (3, 11) else 0)'
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(VENV)/ready-test: $(VENV)/ready
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test]'
	@touch $@

$(VENV)/ready-check: $(VENV)/ready-test
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test,check]'
	@touch $@

$(VENV)/ready-bench: $(VENV)/ready-test
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test,bench]'
	@touch $@

clean:
	rm -rf .venv .venv-* .demo .bench .mypy_cache .ruff_cache .pytest_cache .hypothesis build dist *.egg-info
