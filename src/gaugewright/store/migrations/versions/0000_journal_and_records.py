"""Schema 0: journal, records, parts and originals."""

import sqlalchemy as sa
from alembic import op

revision = "0000"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "journal",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("previous", sa.String(64), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_journal"),
        sa.UniqueConstraint("previous", name="uq_journal_previous"),
        sa.UniqueConstraint("sha256", name="uq_journal_sha256"),
    )
    op.create_table(
        "record",
        sa.Column("uid", sa.String(26), nullable=False),
        sa.Column("version", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("label", sa.String(80), nullable=False),
        sa.Column("at", sa.String(27), nullable=False),
        sa.Column("person", sa.String(26)),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("seq", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("uid", "version", name="pk_record"),
        sa.ForeignKeyConstraint(["seq"], ["journal.seq"], name="fk_record_seq_journal"),
        sa.UniqueConstraint("seq", name="uq_record_seq"),
    )
    op.create_table(
        "part",
        sa.Column("recording", sa.String(26), nullable=False),
        sa.Column("file", sa.String(40), nullable=False),
        sa.Column("first_row", sa.Integer(), nullable=False),
        sa.Column("rows", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("recording", "file", name="pk_part"),
    )
    op.create_table(
        "original",
        sa.Column("sha256", sa.String(64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("file_name", sa.String(255), nullable=False),
        sa.PrimaryKeyConstraint("sha256", name="pk_original"),
    )
    op.create_table(
        "about",
        sa.Column("name", sa.String(40), nullable=False),
        sa.Column("value", sa.Text(), nullable=False),
        sa.PrimaryKeyConstraint("name", name="pk_about"),
    )
