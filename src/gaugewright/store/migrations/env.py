"""How a migration runs: on the connection and in the transaction it is handed."""

from alembic import context

from gaugewright.store import schema

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=schema.METADATA,
    version_table=schema.schema_version.name,
    render_as_batch=True,
    transactional_ddl=True,
)
# No transaction of Alembic's own: the caller's one holds schema, rows and version together.
context.run_migrations()
