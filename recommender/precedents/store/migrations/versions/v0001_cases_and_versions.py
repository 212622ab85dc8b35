"""Cases with their versions, settings, remembered column mappings, imports, and texts that were looked at."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_SERIAL = sa.BigInteger().with_variant(sa.Integer, "sqlite")


def upgrade() -> None:
    op.create_table(
        "cases",
        sa.Column("id", sa.String(80), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("arch", sa.String(8), nullable=False),
        sa.Column("kennedy", sa.String(60)),
        sa.Column("status", sa.String(8), nullable=False),
        sa.Column("outcome_known", sa.Boolean, nullable=False),
        sa.Column("age", sa.String(3)),
        sa.Column("fingerprint", sa.String(64), nullable=False),
        sa.Column("format", sa.Integer, nullable=False),
        sa.Column("title", sa.Text),
        sa.Column("updated_at", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("id", name="pk_cases"),
    )
    op.create_index("ix_cases_arch_kennedy", "cases", ["arch", "kennedy"])
    op.create_index("ix_cases_status", "cases", ["status"])
    op.create_index("ix_cases_fingerprint", "cases", ["fingerprint"])
    op.create_table(
        "versions",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("case_id", sa.String(80), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("kind", sa.String(12), nullable=False),
        sa.Column("who", sa.String(40), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.Column("why", sa.Text, nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("checksum", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_versions"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_versions_case_id_cases"),
        sa.UniqueConstraint("case_id", "revision", name="uq_versions_case_id"),
    )
    op.create_table(
        "settings",
        sa.Column("key", sa.String(60), nullable=False),
        sa.Column("value", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("key", name="pk_settings"),
    )
    op.create_table(
        "mappings",
        sa.Column("headings", sa.String(64), nullable=False),
        sa.Column("shown", sa.Text, nullable=False),
        sa.Column("mapping", sa.Text, nullable=False),
        sa.Column("who", sa.String(40), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("headings", name="pk_mappings"),
    )
    op.create_table(
        "imports",
        sa.Column("digest", sa.String(64), nullable=False),
        sa.Column("name", sa.Text, nullable=False),
        sa.Column("done", sa.Integer, nullable=False),
        sa.Column("finished", sa.Boolean, nullable=False),
        sa.Column("who", sa.String(40), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("digest", name="pk_imports"),
    )
    op.create_table(
        "looked",
        sa.Column("case_id", sa.String(80), nullable=False),
        sa.Column("mark", sa.String(64), nullable=False),
        sa.Column("who", sa.String(40), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.Column("note", sa.Text, nullable=False),
        sa.PrimaryKeyConstraint("case_id", "mark", name="pk_looked"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_looked_case_id_cases"),
    )
