# Two commands: `make kit` makes a first kit, `make test` runs the tests. `make help` lists the others.
# PYTHON=python3.13 chooses the Python that the environments are made with, the first time.

KIT_ENV = .venv
TEST_ENV = .venv-test
TEST_PYTHON = $(TEST_ENV)/bin/python
# Another editor than the locked one, for make test-blender: BPY=5.2.3
BPY = 4.2.23
BPY_ENV = .venv-bpy-$(BPY)
LOCK = pyproject.toml packaging/constraints.txt packaging/make_env.sh
# Two workers; the editor's tests all go to one of them.
PYTEST = $(TEST_PYTHON) -m pytest -q -n 2 --dist loadgroup

.PHONY: help kit test test-slow test-blender test-window lint types shape bench extension demos clean

help:
	@echo "make kit         the demo tank's kit, into build/kit (needs no editor)"
	@echo "make test        the tests, the editor's too; the first time fetches the editor as a module (375 MB)"
	@echo "make test-slow   the tests that take long"
	@echo "make test-blender BPY=4.2.23   the editor's tests in another Blender, in an environment of its own"
	@echo "make test-window BENCH=...   the scenarios in a real window: packaging/test_window.sh says what BENCH is"
	@echo "make lint        ruff"
	@echo "make types       mypy, strict, for both halves, against the editor's types in build/stubs"
	@echo "make shape       how long files and functions are, what is in the rooms and who imports from whom"
	@echo "make bench       times and memory, into build/bench.md"
	@echo "make extension   the extension's zip, into dist"
	@echo "make demos       the demo scenes, made again from their script"
	@echo "make clean       remove what was made, but for the environments ($(KIT_ENV), $(TEST_ENV))"

kit: $(KIT_ENV)/ready
	@$(KIT_ENV)/bin/tackwright kit demo_scenes/bow_tank.toml --out build/kit --replace

test: $(TEST_ENV)/ready
	@$(PYTEST) -m "not slow"

test-slow: $(TEST_ENV)/ready
	@$(PYTEST) -m slow
	@TACKWRIGHT_HYPOTHESIS=sweep $(PYTEST) tests/laws/test_promises.py tests/plates/test_section.py tests/plates/test_trimming.py

test-blender: $(BPY_ENV)/ready
	@$(BPY_ENV)/bin/python -m pytest -q -m "editor and not slow"

test-window: extension
	@sh packaging/test_window.sh "$(BENCH)"

lint: $(TEST_ENV)/ready
	@$(TEST_ENV)/bin/ruff check .

# The folder of a clone may have any name: mypy sees the package through a link that has the right one.
types: $(TEST_ENV)/ready
	@mkdir -p build/types && ln -sfn ../.. build/types/tackwright
	@$(TEST_PYTHON) packaging/editor_stubs.py build/stubs
	@cd build/types && ../../$(TEST_ENV)/bin/mypy --config-file ../../pyproject.toml -p tackwright.core -p tackwright.addon

shape: $(TEST_ENV)/ready
	@$(TEST_PYTHON) packaging/shape.py

bench: $(TEST_ENV)/ready
	@$(TEST_PYTHON) tests/bench/run.py

extension: $(TEST_ENV)/ready
	@$(TEST_PYTHON) packaging/build_extension.py --out dist

demos: $(TEST_ENV)/ready
	@$(TEST_PYTHON) demo_scenes/make_scenes.py

clean:
	@rm -rf build dist *.egg-info .pytest_cache .mypy_cache .ruff_cache .hypothesis
	@find . -name __pycache__ -not -path "./.venv*" -prune -exec rm -rf {} +

$(KIT_ENV)/ready: $(LOCK)
	@sh packaging/make_env.sh $(KIT_ENV) cli

$(BPY_ENV)/ready: $(LOCK)
	@sh packaging/make_env.sh $(BPY_ENV) test editor $(BPY)

$(TEST_ENV)/ready: $(LOCK)
	@sh packaging/make_env.sh $(TEST_ENV) test,lint editor
