# What a person types. The same in plain pip stands in README.md.
PYTHON ?= python3
VENV ?= .venv
BIN := $(VENV)/bin
BUILD := pyproject.toml build_data.py build_desk.py frontend/package.json frontend/package-lock.json

.PHONY: demo test test-pages lint evidence bench pictures clean

demo: $(VENV)/.runs
	$(BIN)/pappus demo demo-flight

test: $(VENV)/.tests
	$(BIN)/python -m pytest -n 2 --dist loadfile

lint: $(VENV)/.tests
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/python frontend/node.py check

# the tests of the pages' own TypeScript
test-pages: $(VENV)/.tests
	$(BIN)/python frontend/node.py test

# the full counts of what the project claims; writes docs/verification*.md
evidence: $(VENV)/.tests
	$(BIN)/python benchmarks/evidence.py

# how fast flights are flown, against other ways; writes docs/performance.md
bench: $(VENV)/.tests
	$(BIN)/python -m pip install --quiet --disable-pip-version-check parcels
	$(BIN)/python benchmarks/flights.py

# the pictures in README.md
pictures: $(VENV)/.runs
	$(BIN)/python benchmarks/pictures.py

$(VENV)/.runs: $(BUILD)
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	touch $@

$(VENV)/.tests: $(BUILD)
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[test]'
	touch $@ $(VENV)/.runs

clean:
	rm -rf $(VENV) demo-flight build dist src/pappus/sources/data src/pappus/web/static frontend/node_modules
