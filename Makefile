# Every target sets up what it needs; Debian with python3, pip and make is enough.

PYTHON ?= python3
BIN := .venv/bin
PLUGINS := $(patsubst %/pyproject.toml,%,$(wildcard plugins/*/pyproject.toml))
INSTALL := $(PYTHON) -m pip --python $(BIN)/python install --quiet --disable-pip-version-check \
	--constraint constraints.txt
export PYTHONDONTWRITEBYTECODE :=

.DEFAULT_GOAL := help
.PHONY: help demo serve test bench docs lint format fuzz clean

help: ## list the targets
	@awk -F ':.*## ' '/^[a-z]+:.*## / {printf "  make %-8s %s\n", $$1, $$2}' $(MAKEFILE_LIST)

demo: .venv/run ## advise on a demo job: a bread van that hunts between its gears
	$(BIN)/gearrec advise docs/examples/bread-van.yaml

serve: .venv/shop ## start the example shop application on loopback
	$(BIN)/python -m gearrec_shop_app

test: .venv/test ## run the tests
	$(BIN)/python -m pytest --disable-plugin-autoload -p xdist.plugin -p _hypothesis_pytestplugin \
		-n $(shell nproc 2>/dev/null || echo 2) --dist worksteal

bench: .venv/test ## print the benchmarks, each beside a floor measured in the same run
	$(BIN)/python tests/benchmarks/run.py

docs: .venv/docs ## build the documentation site into site/, strictly
	NO_MKDOCS_2_WARNING=1 DISABLE_MKDOCS_2_WARNING=1 $(BIN)/python -m mkdocs build --strict

lint: .venv/lint ## ruff, mypy, import layers
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .
	$(BIN)/mypy
	$(BIN)/lint-imports

format: .venv/lint ## format the code
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

fuzz: .venv/test ## mutate catalog files for a minute
	$(INSTALL) atheris
	$(BIN)/python tests/fuzz/fuzz_reader.py -max_total_time=60

clean: ## remove everything that was built
	rm -rf .venv build dist site .hypothesis .mypy_cache .pytest_cache .ruff_cache .import_linter_cache

.venv/bin/python:
	$(PYTHON) -m venv --without-pip .venv

.venv/run: pyproject.toml constraints.txt | .venv/bin/python
	$(INSTALL) -e .
	@touch $@

.venv/test: pyproject.toml constraints.txt $(PLUGINS:=/pyproject.toml) | .venv/bin/python
	$(INSTALL) -e '.[test]' $(PLUGINS:%=-e './%[test]')
	@touch $@

.venv/lint: .venv/test
	$(INSTALL) -e '.[test,lint]' $(PLUGINS:%=-e './%[test]')
	@touch $@

.venv/shop: pyproject.toml constraints.txt $(PLUGINS:=/pyproject.toml) | .venv/bin/python
	$(INSTALL) -e . $(PLUGINS:%=-e ./%)
	@touch $@

.venv/docs: pyproject.toml constraints.txt | .venv/bin/python
	$(INSTALL) -e '.[docs]'
	@touch $@
