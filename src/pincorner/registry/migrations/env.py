"""Runs the schema's migrations inside the transaction of `init` or `upgrade`."""

from alembic import context

from pincorner.registry.tables import metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    transaction_per_migration=False,
)
context.run_migrations()
