# Two commands do everything on a fresh Debian or Ubuntu machine with Python 3.11+ and its venv module:
#   make app    set up, then open the screens
#   make test   set up, then lint, type check and test
# Set PYTHON to choose the interpreter.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
STAMP := .stamps/installed

.PHONY: app demo test check long-test bench clean

app: $(STAMP)
	$(BIN)/rpd-casebook app

demo: $(STAMP)
	$(BIN)/rpd-casebook recommend cases_demo/harbour-0001.yaml

test: check
	$(BIN)/python -m pytest -n auto --dist loadgroup -m "not browser"
	$(BIN)/python -m pytest -m browser

check: $(STAMP)
	$(BIN)/ruff check recommender tests benchmarks app.py
	$(BIN)/mypy

long-test: $(STAMP)
	RPD_LONG=1 $(BIN)/python -m pytest

bench: $(STAMP)
	$(BIN)/python -m benchmarks.retrieval

$(STAMP): requirements.lock pyproject.toml
	$(PYTHON) -m venv $(VENV)
	$(BIN)/python -m pip install --quiet --require-hashes --requirement requirements.lock
	$(BIN)/python -m pip install --quiet --no-deps --no-build-isolation --editable .
	mkdir -p .stamps && touch $@

clean:
	rm -rf $(VENV) .stamps .pytest_cache .mypy_cache .ruff_cache .hypothesis
