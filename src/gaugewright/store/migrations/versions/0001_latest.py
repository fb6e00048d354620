"""Schema 1: which version of each record is the latest, so that lists need not look for it."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = "0000"


def upgrade() -> None:
    op.create_table(
        "latest",
        sa.Column("uid", sa.String(26), nullable=False),
        sa.Column("kind", sa.String(40), nullable=False),
        sa.Column("label", sa.String(80), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("withdrawn", sa.Boolean(), nullable=False),
        sa.Column("first_seq", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("uid", name="pk_latest"),
        sa.UniqueConstraint("first_seq", name="uq_latest_first_seq"),
    )
    op.create_index("ix_latest_kind", "latest", ["kind", "first_seq"])
    op.create_index(
        "ix_latest_label",
        "latest",
        ["kind", "label"],
        unique=True,
        sqlite_where=sa.text("label <> '' AND withdrawn = 0"),
    )
    op.execute(
        "INSERT INTO latest (uid, kind, label, version, withdrawn, first_seq) "
        "SELECT r.uid, r.kind, r.label, r.version, r.withdrawn, f.seq "
        "FROM record AS r JOIN record AS f ON f.uid = r.uid AND f.version = 1 "
        "WHERE r.version = (SELECT max(version) FROM record WHERE uid = r.uid)"
    )
