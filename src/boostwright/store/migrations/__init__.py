"""How a store comes from each form to the next; `env.py` and `versions/` are run by alembic, not imported."""
