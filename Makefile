# `make demo`: the environment, then the demonstration campaign to its PDF.
# `make test`: the environment, then every test.
# `make calibrate`, `make bench`, `make fuzz`: the statistics judged over drawn campaigns; how long
# things take; what damaged files do.
PYTHON ?= python3
VENV := .venv
RUN := $(VENV)/bin
READY := $(VENV)/ready
READY_TEST := $(VENV)/ready-test
DEMO := config/demo/raw/made
export PIP_DISABLE_PIP_VERSION_CHECK := 1
# Jobs start by the hundred: their bytecode is kept where a machine forbids it to all others too.
export PYTHONDONTWRITEBYTECODE :=

.PHONY: demo test bench calibrate calibrate-long fuzz clean

demo: $(DEMO)
	$(RUN)/trivet run config/demo
	@echo "The report: reports/demo/report.pdf"

test: $(READY_TEST)
	$(RUN)/ruff format --check .
	$(RUN)/ruff check .
	$(RUN)/mypy
	$(RUN)/pytest -n 2

# Every benchmark: processor time as a ratio to a general library on the same data, printed.
bench: $(READY_TEST) demo
	@for module in src/trivet/studies/bench*.py; do \
	  $(RUN)/python -m trivet.studies.$$(basename $$module .py) || exit 1; done

# 10,000 damaged raw files, each ends in a table or a finding; damaged records and spectra, in tables.
fuzz: $(READY_TEST)
	$(RUN)/python -m trivet.studies.fuzz
	$(RUN)/python -m trivet.studies.fuzz.records
	$(RUN)/python -m trivet.studies.fuzz.spectra

# How often verdicts are wrong and intervals miss, with stops, looks, checks, entries and numbers of
# the build: a short form of minutes, and the one whose tables stand in tests/STUDIES.md.
calibrate: $(READY_TEST)
	OMP_NUM_THREADS=1 $(RUN)/python -m trivet.studies.calibration --replicates 20

calibrate-long: $(READY_TEST)
	OMP_NUM_THREADS=1 $(RUN)/python -m trivet.studies.calibration --replicates 500

$(DEMO): $(READY) $(wildcard src/trivet/demo/*.py)
	$(RUN)/python -m trivet.demo.make config/demo
	@touch $@

$(READY_TEST): $(READY) config/constraints-test.txt
	$(RUN)/pip install --quiet --no-deps --require-hashes --requirement config/constraints-test.txt
	@touch $@

$(READY): config/constraints.txt pyproject.toml
	@$(PYTHON) src/trivet/cli/machine.py
	$(PYTHON) -m venv --clear $(VENV)
	$(RUN)/pip install --quiet --no-deps --require-hashes --requirement config/constraints.txt
	$(RUN)/pip install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

clean:
	rm -rf $(VENV) reports/demo config/demo/raw config/demo/truth .snakemake
