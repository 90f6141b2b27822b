# Two commands set wellworn up from plain python3: `make demo` and `make test`. Each makes its own environment first.

PYTHON ?= python3
VENV ?= .venv
BIN = $(VENV)/bin
DEMO_FOLDER ?= .demo

.PHONY: demo test test-postgres check bench bench-growth scale faults load fuzz fuzz-guided smoke lower-bounds page-check clean

demo: $(VENV)/ready
	@mkdir -p $(DEMO_FOLDER)
	@$(BIN)/wellworn --db $(DEMO_FOLDER)/demo.db demo

test: $(VENV)/ready-test
	$(BIN)/python -m pytest --numprocesses auto --dist loadfile

# The tests that touch the database once more, on a PostgreSQL server that is started for them (Debian: postgresql).
# POSTGRES_TESTS=tests/db: only those.
test-postgres: $(VENV)/ready-test
	.ci/with-postgres $(BIN)/python -m pytest --numprocesses auto --dist loadfile $(POSTGRES_TESTS)

check: $(VENV)/ready-check
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/python -m tests.audit

bench: $(VENV)/ready-bench
	$(BIN)/python -m tests.bench

# Every question at ten thousand notes to ten million; SCALE_URL names another database, SCALE_CHORUSES other steps.
scale: $(VENV)/ready-bench
	$(BIN)/python -m tests.bench.scale

# Processes killed at random moments, full disks, clocks that jump; mounting needs root, a clock that is set libfaketime.
# FAULTS_URL names a PostgreSQL server to try it on; .ci/with-postgres make faults starts one, and stops it in the middle.
FAULTS ?= 50

faults: $(VENV)/ready-test
	$(BIN)/python -m tests.faults $(FAULTS)

# Many readers and some writers at once, with latencies; LOAD_URL names a database to make (a new file otherwise).
LOAD_SECONDS ?= 120

load: $(VENV)/ready-test
	$(BIN)/python -m tests.bench.load --seconds $(LOAD_SECONDS) $(if $(LOAD_URL),--url $(LOAD_URL))

# How near search grows, as a plot, in a few minutes: a million notes (BENCH_LINES=2000 for a quick look).
bench-growth: $(VENV)/ready-bench
	$(BIN)/python -m tests.bench.growth

# Altered inputs for every reader and parser: FUZZ_INPUTS each (100000), FUZZ_TARGETS by name; findings go to .fuzz/.
fuzz: $(VENV)/ready-test
	$(BIN)/python -m tests.fuzz

# The same targets with inputs that look for lines nobody has reached yet: FUZZ_SECONDS each (300). Linux only.
fuzz-guided: $(VENV)/ready-test
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test,fuzz]'
	$(BIN)/python -m tests.fuzz.guided

# Lesson pages of every kind in a real browser: needs Chromium (CHROMIUM=path), Node.js and npm, so it is no part of `make test`.
PAGE_FOLDER ?= .page-check
CHROMIUM ?= $(shell command -v chromium || command -v chromium-browser || command -v google-chrome)
PAGE_LINE ?= 10
PAGE_WORDS = WELLWORN_DB=$(PAGE_FOLDER)/lines.db $(BIN)/wellworn

page-check: $(VENV)/ready
	@test -n "$(CHROMIUM)" || { echo "no Chromium found: install it, or say CHROMIUM=path"; exit 1; }
	@mkdir -p $(PAGE_FOLDER)
	npm install --silent --no-audit --no-fund --prefix $(PAGE_FOLDER) axe-core@4 puppeteer-core@24
	$(PAGE_WORDS) add seed_data
	$(PAGE_WORDS) page $(PAGE_LINE) --force --out $(PAGE_FOLDER)/line.html
	$(PAGE_WORDS) show $(PAGE_LINE) --json >$(PAGE_FOLDER)/line.json
	$(PAGE_WORDS) find --notes "F2 D2 Eb2 E2 F2" --near --limit 12 --force --page $(PAGE_FOLDER)/hits.html >/dev/null
	$(PAGE_WORDS) page --family $$($(PAGE_WORDS) recur --limit 1 --json | sed -n 's/^  "id": "\(.*\)",/\1/p') --force --out $(PAGE_FOLDER)/family.html
	$(PAGE_WORDS) page --player quellenberg --force --out $(PAGE_FOLDER)/player.html
	@for kind in line hits family player; do \
	  mkdir -p $(PAGE_FOLDER)/$$kind; echo "-- $$kind"; \
	  json=-; if [ $$kind = line ]; then json=$(PAGE_FOLDER)/line.json; fi; \
	  CHROMIUM=$(CHROMIUM) NODE_FOLDER=$(PAGE_FOLDER) node tests/page/check.mjs $(PAGE_FOLDER)/$$kind.html $$json $(PAGE_FOLDER)/$$kind || exit 1; \
	done

# A demo run on every Python that is installed, each in an environment of its own.
smoke:
	@for version in 3.11 3.12 3.13; do \
	  for python in python$$version "$$(pyenv root 2>/dev/null)"/versions/$$version.*/bin/python; do \
	    "$$python" -c '' 2>/dev/null && break; python=; \
	  done; \
	  if [ "$$version" = "$(SMOKE_BUT)" ]; then continue; fi; \
	  if [ -z "$$python" ]; then echo "Python $$version: not installed, left out"; continue; fi; \
	  $(MAKE) --no-print-directory demo PYTHON="$$python" VENV=.venv-$$version DEMO_FOLDER=.demo/$$version >.smoke.log 2>&1 \
	    && echo "Python $$version: the demo runs" || { cat .smoke.log; exit 1; }; \
	done; rm -f .smoke.log

# The oldest releases that pyproject.toml allows, on the oldest Python: the demo, and LOWEST_TESTS (what users type, SQL).
LOWEST_TESTS ?= tests/cli tests/db

lower-bounds:
	$(PYTHON) -m venv --clear .venv-lowest
	.venv-lowest/bin/python -m pip install --quiet --disable-pip-version-check uv
	VIRTUAL_ENV=.venv-lowest .venv-lowest/bin/uv pip install --quiet --resolution lowest-direct --editable '.[test]'
	@mkdir -p .demo/lowest
	.venv-lowest/bin/wellworn --db .demo/lowest/demo.db demo
	.venv-lowest/bin/python -m pytest --numprocesses auto --dist loadfile $(LOWEST_TESTS)

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
	rm -rf .venv .venv-* .demo .bench .fuzz .page-check .mypy_cache .ruff_cache .pytest_cache .hypothesis build dist *.egg-info
