"""Jobs with their texts and revisions, posts, logs, records and works."""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "1"
down_revision = None


def upgrade() -> None:
    """Make the tables of an empty store."""
    _make_jobs()
    _make_texts()
    _make_files()
    _make_works()


def _make_jobs() -> None:
    op.create_table(
        "contents",
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("packed", sa.LargeBinary(), nullable=False),
        sa.PrimaryKeyConstraint("digest", name=op.f("pk_contents")),
    )
    op.create_table(
        "jobs",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("added_by", sa.Text(), nullable=False),
        sa.Column("set_aside_at", sa.DateTime(timezone=True)),
        sa.Column("set_aside_by", sa.Text()),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_jobs")),
    )
    op.create_table(
        "posts",
        sa.Column("key", sa.String(length=200), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("request", sa.String(length=64), nullable=False),
        sa.Column("answer", sa.JSON(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_posts_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("key", name=op.f("pk_posts")),
    )
    op.create_index(op.f("ix_posts_job_id"), "posts", ["job_id"])


def _make_texts() -> None:
    op.create_table(
        "job_texts",
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("part", sa.String(length=20), nullable=False),
        sa.Column("content", sa.LargeBinary(), nullable=False),
        sa.Column("fault", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_job_texts_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("job_id", "part", name=op.f("pk_job_texts")),
    )
    op.create_table(
        "revisions",
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("part", sa.String(length=20), nullable=False),
        sa.Column("changes", sa.JSON(), nullable=False),
        sa.Column("cut_at", sa.Integer(), nullable=False),
        sa.Column("cut_out", sa.LargeBinary()),
        sa.Column("put_in", sa.LargeBinary()),
        sa.Column("who", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("undoes", sa.Integer()),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_revisions_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("job_id", "number", name=op.f("pk_revisions")),
    )


def _make_files() -> None:
    op.create_table(
        "log_files",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("added_by", sa.Text(), nullable=False),
        sa.Column("set_aside_at", sa.DateTime(timezone=True)),
        sa.Column("set_aside_by", sa.Text()),
        sa.ForeignKeyConstraint(["digest"], ["contents.digest"], name=op.f("fk_log_files_digest")),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_log_files_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_log_files")),
    )
    op.create_index(op.f("ix_log_files_digest"), "log_files", ["digest"])
    op.create_index(op.f("ix_log_files_job_id"), "log_files", ["job_id"])
    op.create_table(
        "records",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["digest"], ["contents.digest"], name=op.f("fk_records_digest")),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_records_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_records")),
    )
    op.create_index(op.f("ix_records_digest"), "records", ["digest"])
    op.create_index(op.f("ix_records_job_id_number"), "records", ["job_id", "number"], unique=True)


def _make_works() -> None:
    op.create_table(
        "works",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("job_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sa.String(length=40), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("state", sa.String(length=20), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("asked_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("worker", sa.String(length=80)),
        sa.Column("lease_until", sa.DateTime(timezone=True)),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("is_cancel_asked", sa.Boolean(), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True)),
        sa.CheckConstraint(
            "state IN ('waiting', 'running', 'done', 'failed', 'cancelled')", name=op.f("ck_works_state")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["jobs.id"], name=op.f("fk_works_job_id"), ondelete="CASCADE"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_works")),
    )
    op.create_index(op.f("ix_works_job_id"), "works", ["job_id"])
    op.create_index(op.f("ix_works_state"), "works", ["state"])
