# make demo: set up and check the worked example.   make test: set up, lint, types, all tests.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
READY := $(VENV)/.ready
READY_TEST := $(VENV)/.ready-test

.PHONY: demo test lint types tests bench lock clean

demo: $(READY)
	@$(BIN)/dryfit demo

test: lint types tests

lint: $(READY_TEST)
	$(BIN)/ruff check src tests benchmarks examples
	$(BIN)/ruff format --check src tests benchmarks examples

types: $(READY_TEST)
	$(BIN)/mypy

tests: $(READY_TEST)
	$(BIN)/python -m pytest -n 2

bench: $(READY_TEST)
	$(BIN)/python benchmarks/run.py

$(READY): pyproject.toml constraints.txt
	$(PYTHON) -c "import sys; sys.exit(sys.version_info < (3, 11) and 'dryfit needs Python 3.11 or newer')"
	$(PYTHON) -m venv $(VENV)
	$(BIN)/pip install --quiet --disable-pip-version-check -c constraints.txt -e .
	@touch $@

$(READY_TEST): $(READY)
	$(BIN)/pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[test]'
	@command -v ngspice >/dev/null || (echo "installing ngspice, which the tests compare with" && \
	  $$(command -v sudo || true) apt-get update -qq && $$(command -v sudo || true) apt-get install -y -qq ngspice)
	@touch $@

# Write the versions that are installed now into the constraints file.
lock: $(READY_TEST)
	$(BIN)/pip freeze --exclude-editable | grep -v -i '^dryfit' > constraints.txt

clean:
	rm -rf $(VENV) build dist
