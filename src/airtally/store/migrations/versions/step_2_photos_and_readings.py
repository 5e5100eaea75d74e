"""Photos, readings as they were read, and the folder that a job was imported from."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "2"
down_revision = "1"


def upgrade() -> None:
    """Add the tables and the column; the table of jobs is made anew on the way."""
    with op.batch_alter_table("jobs", recreate="always") as jobs:
        jobs.add_column(sa.Column("folder_digest", sa.String(length=64), server_default="", nullable=False))
    op.create_table(
        "photos",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("place", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("added_by", sa.Text(), nullable=False),
        sa.Column("set_aside_at", sa.DateTime(timezone=True)),
        sa.Column("set_aside_by", sa.Text()),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_photos_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photos")),
    )
    op.create_index(op.f("ix_photos_job_id"), "photos", ["job_id"])
    op.create_table(
        "read_logs",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("nouns", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_read_logs")),
    )
    op.create_table(
        "reading_blocks",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("column", sa.String(length=20), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.ForeignKeyConstraint(["key"], ["read_logs.key"], name=op.f("fk_reading_blocks_key"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("key", "column", "number", name=op.f("pk_reading_blocks")),
    )
