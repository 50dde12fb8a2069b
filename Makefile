# make demo    the main job on a shipped spec, in an environment made for it
# make test    style, types, layers and tests
# make quick   the tests that take no time, in a minute
# make fuzz    anything at all to the readers, five minutes long, or SECONDS=1800
# make bench   how fast; make bench-check   no slower than the last time, within 30 %
# make coverage   tests with coverage of rewire/, at least 95 % of it; make mutants   changes that no test notices
# make house   how big the house is; make packets   how long the packets are; make published   how figures are known
# make times   how long the tests take; make versions   the quick tests with other Pythons
# Each of these, and make fuzz, writes its rows of docs/figures.md, beside what is aimed at.
# make gallery   draw gallery/ anew; make clean   forget the environment
#
# PYTHON=python3.12 make test picks another Python (3.11 or later).

PYTHON ?= python3
VENV ?= .venv
SECONDS ?= 300
MINUTES ?= 10
SEED ?= 0
PYTHONS ?= python3.11 python3.12 python3.13
BIN := $(VENV)/bin
FLAGSHIP := specs/valve-amplifier.yaml
# Written last, so an installation that broke off is done again: the program, then its tests' tools.
INSTALLED := $(VENV)/installed
READY := $(VENV)/ready

.PHONY: demo test quick times versions coverage mutants browser simulator fuzz bench bench-check gallery docs house \
  packets published clean

$(INSTALLED): pyproject.toml constraints.txt
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || { \
	  echo "rewire needs Python 3.11 or later; here '$(PYTHON)' is `$(PYTHON) --version 2>&1`. Name another one: make PYTHON=python3.12 …" >&2; exit 1; }
	@$(PYTHON) -c 'import venv, ensurepip' 2>/dev/null || { \
	  echo "'$(PYTHON)' cannot make environments. On Debian and Ubuntu: apt-get install python3-venv, then again." >&2; exit 1; }
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e .
	@touch $@

$(READY): $(INSTALLED)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test,dev]'
	@touch $@

# The flagship's plan is good, though what was found on its bench is not.
demo: $(INSTALLED)
	@mkdir -p out
	@echo '$$ rewire check $(FLAGSHIP)'
	@$(BIN)/rewire check $(FLAGSHIP)
	@echo
	@echo '$$ rewire sheet $(FLAGSHIP) --output out/valve-amplifier.pdf'
	@$(BIN)/rewire sheet $(FLAGSHIP) --output out/valve-amplifier.pdf

test: $(READY) browser simulator
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/mypy --platform win32 --cache-dir .mypy_cache/win32
	$(BIN)/lint-imports
	$(BIN)/python -m pytest -n 2 --dist worksteal

quick: $(READY)
	$(BIN)/python -m pytest -n 2 --dist worksteal -m "not slow"

times: $(READY)
	@begun=$$(date +%s); $(MAKE) --no-print-directory quick || exit 1; then=$$(date +%s); \
	$(MAKE) --no-print-directory test || exit 1; now=$$(date +%s); \
	$(BIN)/python -m tests.figures 'make times' \
	  "\`make test\`, minutes=$$(awk "BEGIN {print ($$now - $$then) / 60}")" \
	  "\`make quick\`, seconds=$$((then - begun))"

# Each has an environment of its own: make versions PYTHONS='python3.12 python3.13'
versions: $(READY)
	@for python in $(PYTHONS); do \
	  $(MAKE) --no-print-directory PYTHON=$$python VENV=.venv-$$(basename $$python) quick || exit 1; done
	$(BIN)/python -m tests.figures 'make versions' "quick tests pass on Python=$$(for python in $(PYTHONS); do \
	  $$python -c 'import platform; print(platform.python_version())'; done | paste -sd, | sed 's/,/, /g')"

# Three tests starve or interrupt a child process, and with it what measures there.
coverage: $(READY) browser simulator
	$(BIN)/python -m pytest -n 2 --dist worksteal --cov \
	  --deselect tests/hard/test_faults.py::test_a_disk_that_is_full_leaves_the_old_file_and_one_line \
	  --deselect tests/hard/test_faults.py::test_ctrl_c_in_the_middle_leaves_the_old_file_alone \
  --deselect tests/hard/test_faults.py::test_every_writer_writes_all_of_its_file_or_leaves_what_was_there
	$(BIN)/python -m tests.figures 'make coverage' \
	  "lines and branches that the tests run, %=$$($(BIN)/coverage report --format=total --precision=1)"

# A sample within so many minutes. `make mutants OF=rewire/circuit/graph.py SEED=7` takes what is named.
mutants: $(READY)
	nice $(BIN)/python -m tests.mutants --minutes $(MINUTES) --seed $(SEED) $(OF)

browser:
	@sh .ci/browser

simulator:
	@sh .ci/simulator

# Guided by coverage, which atheris does on Linux, x86_64, CPython 3.11 to 3.13.
fuzz: $(READY)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[fuzz]'
	@mkdir -p out
	$(BIN)/python -m tests.fuzz --seconds $(SECONDS) 2> out/fuzz.log || { tail -40 out/fuzz.log; exit 1; }
	$(BIN)/python -m tests.figures 'make fuzz' "inputs tried in one run, none of which broke a reader=$$(\
	  sed -n 's/^stat::number_of_executed_units: *//p' out/fuzz.log)"

bench: $(READY)
	$(BIN)/python -m tests.benchmarks.figures

bench-check: $(READY)
	$(BIN)/python -m tests.benchmarks.figures --check

gallery: $(READY)
	$(BIN)/python -m tests.gallery

docs: $(READY)
	$(BIN)/python -m tests.docs

house: $(READY)
	$(BIN)/python -m tests.house

packets: $(READY)
	$(BIN)/python -m tests.sheet

published: $(READY)
	$(BIN)/python -m tests.published

clean:
	rm -rf $(VENV) out mutants .coverage*
