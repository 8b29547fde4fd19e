# Sound Edge. Two commands do all the set-up on a fresh machine: `make demo` and `make test`.
PYTHON ?= python3
BIN := .venv/bin
EXAMPLES := $(sort $(dir $(wildcard examples/*/job.toml)))
export PYTHONUTF8 := 1
# What opens a ledger; the other tests know of no store, or ask of a page only how it looks, and show nothing new on a second one.
STORED := tests/store tests/services tests/cli tests/journeys tests/record tests/evidence tests/history tests/web \
  $(foreach file,every_page outline_editor entry_form outbox not_taken hostile_texts,--ignore tests/web/browser/test_$(file).py) \
  $(foreach file,words asvs,--ignore tests/web/test_$(file).py) -k "not no_fault_of_access"

.PHONY: demo test test-postgres quick check bench evidence lock clean setup-run setup-test

# Run the main job on every example folder and say where the certificates are.
demo: setup-run
	@rm -rf out
	@$(BIN)/python scripts/demo.py $(EXAMPLES)

# Everything a change must survive: style, types, the house plan, every room, the walking path, the browser; then all that opens a
# store again, in a PostgreSQL that is made for it and thrown away.
test: check
	@$(BIN)/python -m pytest -n 2 --dist loadfile --durations=15
	@SOUNDEDGE_TEST_HISTORIES=30 $(BIN)/python -m tests.postgres $(BIN)/python -m pytest -n 2 --dist loadfile --durations=15 $(STORED)

# Every test there is on PostgreSQL, the pure ones too.
test-postgres: setup-test
	@$(BIN)/python -m tests.postgres $(BIN)/python -m pytest -n 2 --dist loadfile --durations=15

# The same without the tests marked slow.
quick: setup-test
	@$(BIN)/ruff check src tests bench scripts
	@$(BIN)/python -m pytest -n 2 --dist loadfile -m "not slow"

# Style and types alone.
check: setup-test
	@$(BIN)/ruff check src tests bench scripts
	@$(BIN)/mypy src/soundedge

# Ratios against named general-purpose peers, measured in one run.
bench: setup-test
	@for file in bench/*.py; do echo "== $$file"; $(BIN)/python $$file || exit 1; done

# The record against killed processes, power cuts, full disks, flipped bits and edited databases: counts, about six minutes.
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
