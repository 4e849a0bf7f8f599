# Hushweir: the commands of a checkout. Needs Python 3.11 or newer with pip and venv, and make.

PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
export OMP_NUM_THREADS ?= 1

.PHONY: help demo test bench bench-ears bench-coach check check-page train samples pictures clean

help:
	@echo "make demo     the main job on the rehearsal rig: no microphone, no tank"
	@echo "make test     all tests; installs what they need or says what to install"
	@echo "make bench    the figures: accuracy, closed loop, cost"
	@echo "make bench-ears  how well the ears hear (RECORDINGS=folder, JUDGE=folder add real recordings and an outside tagger)"
	@echo "make bench-coach  how well the coach tunes through the microphone (RECORDINGS=folder adds household sound)"
	@echo "make check    lint and types"
	@echo "make check-page  pages of 'hushweir report' in Chromium, before a validator and an accessibility checker (npm)"
	@echo "make train    fit the signature model anew (RECORDINGS=folder adds labelled recordings)"
	@echo "make samples  render sample_audio/ anew"
	@echo "make pictures draw the README's pictures of the screens anew"

$(BIN)/hushweir: pyproject.toml
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
		{ echo "Python 3.11 or newer is needed: set PYTHON=python3.11 or install it" >&2; exit 2; }
	@test -x $(BIN)/python || $(PYTHON) -m venv $(VENV) || \
		{ echo "python3 -m venv failed: on Debian or Ubuntu install python3-venv" >&2; exit 2; }
	@echo "installing Hushweir into $(VENV) (once) ..."
	@$(BIN)/pip install --quiet --disable-pip-version-check --editable .
	@touch $@

$(BIN)/.dev: $(BIN)/hushweir
	@echo "installing what tests and checks need (once) ..."
	@$(BIN)/pip install --quiet --disable-pip-version-check --editable '.[dev]'
	@touch $@

demo: $(BIN)/hushweir
	@$(BIN)/hushweir demo

test: $(BIN)/.dev
	@sh tests/system_packages.sh
	@sh tests/all.sh $(BIN)/python $(PYTEST_ARGS)

bench: $(BIN)/.dev
	@$(BIN)/python -m tests.bench $(BENCH_ARGS)

bench-ears: $(BIN)/.dev
	@$(BIN)/python -m tests.bench.ears $(if $(RECORDINGS),--recordings $(RECORDINGS)) $(if $(JUDGE),--judge $(JUDGE)) $(BENCH_ARGS)

bench-coach: $(BIN)/.dev
	@$(BIN)/python -m tests.bench.coach_oracle $(BENCH_ARGS)
	@$(BIN)/python -m tests.bench.coach $(if $(RECORDINGS),--recordings $(RECORDINGS)) $(BENCH_ARGS)

check: $(BIN)/.dev
	@$(BIN)/ruff check tuner tests
	@$(BIN)/mypy

check-page: $(BIN)/.dev
	@$(BIN)/python -m tests.browser $(PAGE_ARGS)

train: $(BIN)/.dev
	@$(BIN)/python -m tuner.training --out models/signatures.json $(if $(RECORDINGS),--recordings $(RECORDINGS))

samples: $(BIN)/.dev
	@$(BIN)/python -m tuner.training.samples sample_audio

pictures: $(BIN)/.dev
	@$(BIN)/python -m tests.pictures

clean:
	rm -rf $(VENV) build dist *.egg-info
