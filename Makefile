# `make demo`: the environment, then the demonstration campaign to its PDF.
# `make test`: the environment, then every test.
# `make bench`: how long the heavy parts take.
PYTHON ?= python3
VENV := .venv
RUN := $(VENV)/bin
READY := $(VENV)/ready
DEMO := config/demo/raw/made
export PIP_DISABLE_PIP_VERSION_CHECK := 1

.PHONY: demo test bench clean

demo: $(DEMO)
	$(RUN)/snakemake --workflow-profile config/profiles/local
	@echo "The report: reports/demo/report.pdf"

test: $(READY)
	$(RUN)/ruff format --check .
	$(RUN)/ruff check .
	$(RUN)/mypy
	$(RUN)/pytest -n 2

bench: $(READY)
	$(RUN)/python -m trivet.studies.bench_cycling

$(DEMO): $(READY) $(wildcard src/trivet/demo/*.py)
	$(RUN)/python -m trivet.demo.make config/demo
	@touch $@

$(READY): config/constraints.txt pyproject.toml
	@$(PYTHON) src/trivet/cli/machine.py
	$(PYTHON) -m venv --clear $(VENV)
	$(RUN)/pip install --quiet --no-deps --require-hashes --requirement config/constraints.txt
	$(RUN)/pip install --quiet --no-deps --no-build-isolation --editable .
	@touch $@

clean:
	rm -rf $(VENV) reports/demo config/demo/raw config/demo/truth .snakemake
