"""Runs the migrations on the connection the store hands over, inside its transaction."""

from alembic import context

from tuning.log.schema import VERSION_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
)
context.run_migrations()
