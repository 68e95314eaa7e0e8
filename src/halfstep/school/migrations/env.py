"""How is a change of the schema carried out? On a connection that is given, in its transaction."""

from __future__ import annotations

from alembic import context

from halfstep.school.tables import metadata

CONNECTION = context.config.attributes["connection"]

context.configure(
    connection=CONNECTION,
    target_metadata=metadata,
    transactional_ddl=True,
    transaction_per_migration=False,
    render_as_batch=True,
)
context.run_migrations()
