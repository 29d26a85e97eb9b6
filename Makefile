# landwise: `make demo` shows the main job, `make test` proves it. Nothing else is needed beforehand.
PYTHON ?= python3
VENV := .venv
BIN := $(VENV)/bin
# A module is compiled once, not by every process of a run that imports it: some environments switch that off.
export PYTHONDONTWRITEBYTECODE :=

.PHONY: help demo test slowest lint types format docs benchmark whole memory overlaps fuzz mutants clean

help: ## list the targets
	@grep -hE '^[a-z-]+:.*##' $(MAKEFILE_LIST) | sed -E 's/:.*## /\t/' | expand -t 14

$(VENV)/pyvenv.cfg:
	@$(PYTHON) -c 'import sys; sys.exit(sys.version_info < (3, 11))' || \
	  { echo "landwise needs Python 3.11 or newer; '$(PYTHON)' is older. Try: make $(MAKECMDGOALS) PYTHON=python3.12" >&2; exit 2; }
	$(PYTHON) -m venv $(VENV)

$(VENV)/run.stamp: pyproject.toml constraints.txt | $(VENV)/pyvenv.cfg
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[pdf,spreadsheets,workbench]'
	@touch $@

# What runs it is part of what develops it: one call of pip for both.
$(VENV)/dev.stamp: pyproject.toml constraints.txt | $(VENV)/pyvenv.cfg
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[dev]'
	@touch $(VENV)/run.stamp $@

$(VENV)/docs.stamp: $(VENV)/run.stamp
	$(BIN)/python -m pip install --quiet --disable-pip-version-check -c constraints.txt -e '.[docs]'
	@touch $@

demo: $(VENV)/run.stamp ## set up and run the main job on the example board
	$(BIN)/landwise study examples/logger/board.toml -o out/demo

test: $(VENV)/dev.stamp ## set up and run every test
	$(BIN)/python -m pytest -q -n 2 --dist worksteal

slowest: $(VENV)/dev.stamp ## every test, and where its processor time goes: a table by file and by test
	$(BIN)/python -m pytest -q -n 2 --dist worksteal -p tests.slowest

lint: $(VENV)/dev.stamp ## style and likely mistakes
	$(BIN)/ruff check .
	$(BIN)/ruff format --check .

format: $(VENV)/dev.stamp ## rewrite to the house format
	$(BIN)/ruff check --fix .
	$(BIN)/ruff format .

types: $(VENV)/dev.stamp ## static types
	$(BIN)/mypy

docs: $(VENV)/docs.stamp ## build the site of the documents into out/docs/, without network
	$(BIN)/mkdocs build --strict --quiet
	@echo "open out/docs/index.html"

benchmark: $(VENV)/run.stamp ## time and memory of the main commands, as ratios within one run
	for one in weight run again sweep choice joints assembly designing packing offers plate service panel; do $(BIN)/python benchmarks/$$one.py || exit 1; done

whole: $(VENV)/dev.stamp ## the checks of which `make test` takes a sample, over everything (minutes)
	LANDWISE_WHOLE=1 $(BIN)/python -m pytest -q -n 2 --dist worksteal tests/test_example.py tests/designing/test_designing_everywhere.py tests/lands/test_lands_catalogue.py tests/joints/test_joints_gullwing.py tests/joints/test_joints_settling.py tests/joints/test_joints_standing.py tests/fabdata/test_fabdata_footprints.py tests/fabdata/test_fabdata_partfilms.py tests/sheets/test_sheets_drawings.py tests/choosing/test_choosing_packing.py tests/choosing/test_choosing_board_robust.py tests/board/test_board_money_enumerated.py tests/board/test_board_grouping_enumerated.py tests/board/test_board_trails_shared.py tests/board/test_board_agree.py tests/published/test_published_situations.py tests/review/test_review_copies.py tests/review/test_review_harm.py tests/review/test_review_foils_whole.py tests/review/test_review_planted.py tests/workbench/test_workbench_browser.py tests/workbench/test_workbench_engine.py tests/board/test_board_model.py

memory: $(VENV)/dev.stamp ## whether the workbench's memory stays flat over 2,000 moves and 20 reviews
	$(BIN)/python benchmarks/workbench_memory.py

overlaps: $(VENV)/dev.stamp ## texts that lie on each other in the reports of the example and of every board beside the project
	$(BIN)/python benchmarks/overlaps.py

fuzz: $(VENV)/dev.stamp ## hostile input for every reader: a minute for fabrication files, ten for all others
	$(BIN)/python fuzz/fuzz_gerber.py
	$(BIN)/python fuzz/fuzz_readers.py 600

mutants: $(VENV)/dev.stamp ## change numbers one at a time and see a published case notice, half an hour
	$(BIN)/python tests/mutants/mutate.py --most 40 --seconds 1800; $(BIN)/python tests/mutants/mutate.py --page

clean: ## remove what the other targets made
	rm -rf $(VENV) out .pytest_cache .mypy_cache .ruff_cache .hypothesis
