"""Profiles of the house's own hand, in the order in which they were adopted."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "profiles",
        sa.Column(
            "seq", sa.BigInteger().with_variant(sa.Integer, "sqlite"), autoincrement=True, nullable=False
        ),
        sa.Column("who", sa.String(40), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("checksum", sa.String(64), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_profiles"),
    )
