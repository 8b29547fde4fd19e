# Sound Edge. Two commands do all the set-up on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
BIN := .venv/bin
EXAMPLES := $(sort $(dir $(wildcard examples/*/job.toml)))
export PYTHONUTF8 := 1

.PHONY: demo sign-in test test-all test-postgres quick check bench evidence lock clean setup-run setup-test

# Run the main job on every example folder and say where the certificates are.
demo: setup-run
	@rm -rf out
	@$(BIN)/python scripts/demo.py $(EXAMPLES)

# The demonstration shop once more: how it is opened, and the one-time passwords of its invented people.
sign-in:
	@cat out/sign-in.txt 2>/dev/null || { echo "There is no demonstration yet: make demo makes it." >&2; exit 1; }

# What a change must survive: style, types, the house plan, every room, the walking path, each page once
# in a browser; beside them the store's contract again, in a PostgreSQL that is made for it and thrown away.
test: setup-test
	@$(BIN)/python -m tests

# What a release must survive as well: every page for every visitor, every made-up example, all that opens a store on both stores.
test-all: setup-test
	@$(BIN)/python -m tests --release

# Every test there is on PostgreSQL, the pure ones too.
test-postgres: setup-test
	@$(BIN)/python -m tests.postgres $(BIN)/python -m pytest -n 2 --dist worksteal --durations=15 --release

# What `make test` runs on the first store, without the tests marked slow.
quick: setup-test
	@$(BIN)/ruff check src tests bench scripts
	@$(BIN)/python -m pytest -n 2 --dist worksteal -m "not slow"

# Style and types alone.
check: setup-test
	@$(BIN)/ruff check src tests bench scripts
	@$(BIN)/mypy src/soundedge

# Ratios against named general-purpose peers, measured in one run; one table at the end.
bench: setup-test
	@$(BIN)/python bench/table.py

# The record against killed processes, power cuts, full disks, flipped bits and edited databases: counts, about ten minutes.
evidence: setup-test
	@$(BIN)/python -m tests.evidence

# Write the hashed locks again from pyproject.toml (needs uv on the path; locks carry no index addresses).
lock:
	uv pip compile pyproject.toml requirements/build.in --extra postgres --generate-hashes --no-emit-index-url --no-header --universal \
	  --python-version 3.11 -o requirements/run.lock
	uv pip compile pyproject.toml requirements/build.in --group dev --extra postgres --generate-hashes --no-emit-index-url \
	  --no-header --universal --python-version 3.11 -c requirements/run.lock -o requirements/test.lock

setup-run:
	@PYTHON=$(PYTHON) sh scripts/setup.sh run

setup-test:
	@PYTHON=$(PYTHON) sh scripts/setup.sh test

clean:
	rm -rf out .venv build src/*.egg-info .pytest_cache .ruff_cache .hypothesis .mypy_cache
