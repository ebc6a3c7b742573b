# Two commands do all set-up on a fresh machine: make demo, make test.
VENV ?= .venv
BIN := $(VENV)/bin
INPUTS := pyproject.toml setup/environment setup/versions.txt
CHROMIUM ?= /usr/bin/chromium
export CHROMIUM
# Tests of one file stay together, as they share what is slow to make.
SPREAD := -n 2 --dist loadfile

.PHONY: demo test lint unit browser chromium live-audio sound-server validate bench reference gallery portraits clean

demo: $(VENV)/.ready
	@$(BIN)/solidcopy demo --folder out/harbour

test: lint unit browser live-audio

lint: $(VENV)/.ready-for-tests
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

unit: $(VENV)/.ready-for-tests
	$(BIN)/pytest $(SPREAD) -m "not sweep and not browser and not live_audio"

# The bench in the browser, in real Chromium; on Debian as root it is installed if missing.
browser: $(VENV)/.ready-for-tests chromium
	$(BIN)/pytest $(SPREAD) -m browser

chromium:
	@setup/chromium "$(CHROMIUM)"

# Real audio through a sound server without hardware; on Debian as root it is installed if missing.
live-audio: $(VENV)/.ready-for-tests sound-server
	$(BIN)/pytest -rP -m live_audio

sound-server:
	@setup/sound-server

# Slow statistical sweeps; the results are written down in docs/accuracy.md.
validate: $(VENV)/.ready-for-tests
	$(BIN)/pytest -m sweep -s

bench: $(VENV)/.ready-for-tests chromium
	$(BIN)/python benchmarks/bench_receiver.py
	$(BIN)/python benchmarks/bench_belief_propagation.py
	$(BIN)/python benchmarks/bench_throughput.py
	$(BIN)/python benchmarks/bench_start.py
	$(BIN)/python benchmarks/bench_report.py
	$(BIN)/python benchmarks/bench_journal.py
	PYTHONPATH=tests $(BIN)/python benchmarks/bench_web.py

# Rewrites the generated pages of docs/reference.
reference: $(VENV)/.ready-for-tests
	$(BIN)/python -m solidcopy.cli.reference docs/reference

# Draws the pictures of docs/gallery anew.
gallery: $(VENV)/.ready-for-tests
	$(BIN)/python -m solidcopy.cli.gallery docs/gallery

# Takes the pictures of docs/images/bench anew.
portraits: $(VENV)/.ready-for-tests chromium
	$(BIN)/pytest -m browser --portraits

$(VENV)/.ready: $(INPUTS)
	@setup/environment "$(VENV)"
	@touch $@

$(VENV)/.ready-for-tests: $(INPUTS)
	@setup/environment "$(VENV)" test
	@touch $@ $(VENV)/.ready

clean:
	rm -rf out build dist .mypy_cache .ruff_cache .pytest_cache .hypothesis
