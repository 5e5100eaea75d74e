# The one list of verbs. `make` alone prints it.

PYTHON ?= python3
BIN := .venv/bin
READY := .venv/.installed
READY_DEV := .venv/.installed-dev

.PHONY: help demo test bench recovery look check fmt

help:
	@echo "make demo      set up, then run the whole job on the invented demo house"
	@echo "make test      set up, Debian packages too, then pass all tests"
	@echo "make bench     time the engine, the network, the readings and the start; writes benchmarks/*.md"
	@echo "make recovery  the long recovery runs; writes docs/recovery.md"
	@echo "make look      draw every page at three widths and every paper to look-out/"
	@echo "make check     lint, types, import contract, fast tests"
	@echo "make fmt       format the code"

$(READY): pyproject.toml
	test -x $(BIN)/python || $(PYTHON) -m venv .venv
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable .
	$(BIN)/python -m compileall -q src/airtally
	touch $(READY)

$(READY_DEV): $(READY) pyproject.toml
	$(BIN)/python -m pip install --quiet --disable-pip-version-check --editable '.[dev]'
	touch $(READY_DEV)

demo: $(READY)
	$(BIN)/airtally demo

test: $(READY_DEV)
	sh .ci/debian-packages
	$(BIN)/ruff check src tests benchmarks
	$(BIN)/mypy
	$(BIN)/lint-imports --no-cache
	$(BIN)/pytest

bench: $(READY_DEV)
	$(BIN)/python -m benchmarks.engine
	$(BIN)/python -m benchmarks.network
	$(BIN)/python -m benchmarks.readings
	$(BIN)/python -m benchmarks.start

recovery: $(READY_DEV)
	$(BIN)/python -m tests.recovery.run

look: $(READY_DEV)
	sh .ci/debian-packages
	$(BIN)/python -m tests.look

check: $(READY_DEV)
	$(BIN)/ruff check src tests benchmarks
	$(BIN)/mypy
	$(BIN)/lint-imports
	$(BIN)/pytest -m "not slow"

fmt: $(READY_DEV)
	$(BIN)/ruff format src tests benchmarks
	$(BIN)/ruff check --fix src tests benchmarks
