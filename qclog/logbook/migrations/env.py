"""What Alembic runs to migrate: the steps, in the transaction of the connection that ``migrate`` hands over."""

from alembic import context

from qclog.logbook import schema

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=schema.metadata,  # constraints are named by its convention
    version_table=schema.schema_revision.name,
)
context.run_migrations()
