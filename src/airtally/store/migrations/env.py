"""Run by the migration tool: the open connection of the store, its tables, batch mode for SQLite."""

from __future__ import annotations

from alembic import context

from airtally.store.models import Base

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=Base.metadata,
    render_as_batch=True,
)
with context.begin_transaction():
    context.run_migrations()
