"""Who works in a library on a server, and their log-ins that have not ended."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "people",
        sa.Column("alias", sa.String(40), nullable=False),
        sa.Column("role", sa.String(10), nullable=False),
        sa.Column("login", sa.String(200)),
        sa.Column("database_user", sa.String(63)),
        sa.Column("who", sa.String(40), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.Column("ended", sa.String(24)),
        sa.PrimaryKeyConstraint("alias", name="pk_people"),
        sa.UniqueConstraint("login", name="uq_people_login"),
        sa.UniqueConstraint("database_user", name="uq_people_database_user"),
    )
    op.create_table(
        "sessions",
        sa.Column("login_key", sa.String(64), nullable=False),
        sa.Column("alias", sa.String(40), nullable=False),
        sa.Column("token", sa.String(64), nullable=False),
        sa.Column("began", sa.String(24), nullable=False),
        sa.Column("seen", sa.String(24), nullable=False),
        sa.Column("ended", sa.String(24)),
        sa.PrimaryKeyConstraint("login_key", name="pk_sessions"),
        sa.ForeignKeyConstraint(["alias"], ["people.alias"], name="fk_sessions_alias_people"),
        sa.UniqueConstraint("token", name="uq_sessions_token"),
    )
