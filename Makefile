# Each target sets itself up; see .ci/setup.
.PHONY: help demo test fuzz bench load machines check lint unit postgresql upgrade downgrade

help:  ## what can be done here
	@grep -E '^[a-z]+:.*##' Makefile | sed -E 's/:.*## /\t/' | expand -t 12

demo:  ## run the product with demo data on 127.0.0.1 (PORT= moves it)
	@.ci/setup run
	@.ci/demo

test: check unit  ## everything that has to pass: linters, types, layers, checks, tests

check: lint  ## linters, types, layers, bandit, Django's own checks
	.venv/bin/lint-imports
	.venv/bin/bandit --quiet --configfile pyproject.toml --recursive jobs studio
	.venv/bin/python manage.py makemigrations --check --dry-run
	DEBUG=off SECURE=on ALLOWED_HOSTS=studio.example .venv/bin/python manage.py check --deploy --fail-level WARNING

lint:
	@.ci/setup dev
	.venv/bin/ruff check .
	.venv/bin/ruff format --check .
	.venv/bin/djlint templates --lint --quiet
	.venv/bin/mypy

unit:  ## the tests alone
	@.ci/setup dev
	.venv/bin/python -m pytest -n auto

postgresql:  ## the tests that use the database, on a throw-away PostgreSQL
	@.ci/setup dev
	.ci/postgres .venv/bin/python -m pytest -n auto --database-only

upgrade:  ## of an installation: backup, newer version (VERSION=), packages, migrations, restart
	@.ci/upgrade to $(VERSION)

downgrade:  ## back to the version and the rows of before the last upgrade
	@.ci/upgrade back

machines:  ## three web and two worker processes on a throw-away PostgreSQL, killed at random under load
	@.ci/setup dev
	.ci/postgres .venv/bin/python -m tests.bench machines

fuzz:  ## a hundred thousand odd inputs for each parser, thousands for each form and page (CASES= says how many)
	@.ci/setup dev
	FUZZ_CASES=$(or $(CASES),100000) .venv/bin/python -m pytest -n auto tests/fuzz

bench:  ## measurements, as ratios in one run
	@.ci/setup dev
	.venv/bin/python -m tests.bench

load:  ## twenty people at once on a studio of ten years, for ten minutes (MINUTES= says otherwise)
	@.ci/setup dev
	.venv/bin/python -m tests.bench load
