# `make report` and `make test` each do everything from nothing. PYTHON=... chooses the interpreter.
SHELL := /bin/sh
PLANT ?= data/tarnholt
OUT ?= reports/$(notdir $(PLANT))

VENV := .venv
BIN := $(VENV)/bin
# Modules are compiled as they are first used: compiling all at the installation takes five times as long.
unexport PYTHONPATH PYTHONHOME PYTHONDONTWRITEBYTECODE
export PIP_DISABLE_PIP_VERSION_CHECK := 1

# A checkout that was moved or copied would still run the code at its old place: install again.
ifneq ($(shell cat $(VENV)/place 2>/dev/null),$(CURDIR))
$(shell rm -f $(VENV)/installed $(VENV)/installed-test .venv-lab/installed)
endif

# After a change of the sources the cell is compiled anew; without a compiler the sources run.
compiled: $(VENV)/installed
	@$(BIN)/simkit compile || true

.PHONY: help compiled report lab test bench check clean
.DELETE_ON_ERROR:

help:
	@echo "make report   install if needed, simulate $(PLANT), write the report to $(OUT)/index.html"
	@echo "make lab      install if needed, open the notebooks of studies/ in JupyterLab, on this computer only"
	@echo "make test     install if needed, run the whole test suite on all processors"
	@echo "make bench    how fast the cell and the formulas run, as ratios, to build/bench"
	@echo "make check    style and types (ruff, mypy)"
	@echo "make clean    remove the environment, reports and caches"

report: $(VENV)/installed compiled
	$(BIN)/simkit report $(PLANT) --out $(OUT)

# JupyterLab has an environment of its own, for beside it every start of a notebook's kernel takes longer. Its kernel is
# the kit's Python.
LAB := .venv-lab
LAB_FLAGS ?=

lab: $(VENV)/installed $(LAB)/installed
	$(LAB)/bin/jupyter-lab --ip 127.0.0.1 --ServerApp.root_dir=$(CURDIR)/studies $(LAB_FLAGS)

# As many processes as the machine has, files of tests in the order of tests/conftest.py; a process that dies ends the run with a word.
TOGETHER := --numprocesses logical --maxprocesses 4 --dist loadfile --no-loadscope-reorder --max-worker-restart 0

test: $(VENV)/installed-test $(LAB)/installed compiled
	$(BIN)/python -m pytest $(TOGETHER) --durations 10 --durations-min 10

bench: $(VENV)/installed-test compiled
	$(BIN)/python -m tests.bench.bench_compiled
	SIMKIT_SOURCES=1 $(BIN)/python -m tests.bench.bench_engine --out build/bench
	$(BIN)/python -m tests.bench.bench_process --out build/bench
	$(BIN)/python -m tests.bench.bench_reading --out build/bench
	$(BIN)/python -m tests.bench.bench_log --out build/bench
	$(BIN)/python -m tests.bench.bench_answers --out build/bench

check: $(VENV)/installed-test
	$(BIN)/python -m ruff check .
	$(BIN)/python -m ruff format --check .
	$(BIN)/python -m mypy

clean:
	rm -rf $(VENV) $(LAB) reports build simkit.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
	find . -name __pycache__ -type d -prune -exec rm -rf {} +

PIP := $(BIN)/python -m pip install --quiet --no-compile --constraint constraints.txt
# What the cell is compiled with, and what its sources import: installed first, so that the rest comes meanwhile.
TRANSLATOR := mypy setuptools numpy pydantic simpy
COMPILE := from simkit.base.compiled import compile_or_tell; compile_or_tell()
$(VENV)/installed: pyproject.toml constraints.txt $(VENV)/python-ready
	@echo "Installing into $(VENV), and compiling the cell (about a minute, 500 MB) ..."
	$(PIP) $(TRANSLATOR)
	@$(BIN)/python -c "$(COMPILE)" & $(PIP) --editable ".[compile]" && wait $$!
	@echo "$(CURDIR)" > $(VENV)/place
	@touch $@

$(VENV)/installed-test: $(VENV)/installed
	@echo "Installing what the tests need ..."
	$(PIP) --editable ".[compile,test]"
	@touch $@

# No question about news and no look for updates: nothing leaves this computer.
NEWS := {"@jupyterlab/apputils-extension:notification": {"fetchNews": "false", "checkForUpdates": false}}
$(LAB)/installed: constraints.txt $(VENV)/installed
	@echo "Installing JupyterLab into $(LAB) (about a minute, 250 MB) ..."
	$(BIN)/python -m venv --clear $(LAB)
	$(LAB)/bin/python -m pip install --quiet --constraint constraints.txt jupyterlab ipywidgets
	$(BIN)/python -m ipykernel install --prefix $(LAB) --name python3 --display-name "Study kit" >/dev/null
	@mkdir -p $(LAB)/share/jupyter/lab/settings
	@echo '$(NEWS)' > $(LAB)/share/jupyter/lab/settings/overrides.json
	@touch $@

# A working environment is kept. Otherwise: the first Python 3.11 or later that has the venv module
# (a package of its own on Debian), or the one that PYTHON names.
$(VENV)/python-ready:
	@suits='import sys; sys.exit(sys.version_info < (3, 11))'; \
	if $(BIN)/python -m pip --version >/dev/null 2>&1 && $(BIN)/python -c "$$suits"; then touch $@; exit 0; fi; \
	for name in $${PYTHON:-python3.13 python3.12 python3.11 python3}; do \
	  "$$name" -c "$$suits" 2>/dev/null || continue; \
	  "$$name" -c 'import venv, ensurepip' 2>/dev/null || { lacks_venv="$$lacks_venv $$name"; continue; }; \
	  echo "Making $(VENV) with $$name ($$("$$name" --version))"; \
	  "$$name" -m venv --clear $(VENV) && touch $@ && exit 0; \
	done; \
	if [ -n "$$lacks_venv" ]; then \
	  echo "Found$$lacks_venv, but without the venv module." >&2; \
	  echo "On Debian and Ubuntu: sudo apt install python3-venv    then run make again." >&2; \
	else \
	  echo "No Python 3.11 or later found$${PYTHON:+ at $$PYTHON}." >&2; \
	  echo "Install one, or name it: make report PYTHON=/path/to/python3" >&2; \
	fi; exit 1
