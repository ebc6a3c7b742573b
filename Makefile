# Two commands do all set-up on a fresh machine: make demo, make test.
VENV ?= .venv
BIN := $(VENV)/bin
INPUTS := pyproject.toml setup/environment setup/versions.txt

.PHONY: demo test lint unit browser validate bench reference gallery clean

demo: $(VENV)/.ready
	@$(BIN)/solidcopy demo --folder out/harbour

test: lint unit

lint: $(VENV)/.ready-for-tests
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

unit: $(VENV)/.ready-for-tests
	$(BIN)/pytest -m "not sweep and not browser"

# The bench in the browser: needs Chromium at /usr/bin/chromium (Debian: apt-get install chromium).
browser: $(VENV)/.ready-for-tests
	$(BIN)/pytest -m browser

# Slow statistical sweeps; the results are written down in docs/accuracy.md.
validate: $(VENV)/.ready-for-tests
	$(BIN)/pytest -m sweep -s

bench: $(VENV)/.ready-for-tests
	$(BIN)/python benchmarks/bench_receiver.py
	$(BIN)/python benchmarks/bench_belief_propagation.py
	$(BIN)/python benchmarks/bench_throughput.py
	$(BIN)/python benchmarks/bench_start.py
	$(BIN)/python benchmarks/bench_report.py

# Rewrites the generated pages of docs/reference.
reference: $(VENV)/.ready-for-tests
	$(BIN)/python -m solidcopy.cli.reference docs/reference

# Draws the pictures of docs/gallery anew.
gallery: $(VENV)/.ready-for-tests
	$(BIN)/python -m solidcopy.cli.gallery docs/gallery

$(VENV)/.ready: $(INPUTS)
	@setup/environment "$(VENV)"
	@touch $@

$(VENV)/.ready-for-tests: $(INPUTS)
	@setup/environment "$(VENV)" test
	@touch $@ $(VENV)/.ready

clean:
	rm -rf out build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
