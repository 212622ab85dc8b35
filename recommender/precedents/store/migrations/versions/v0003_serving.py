"""Which approved revision of a case serves as a precedent, while a later one waits for a reviewer."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("cases", sa.Column("serving", sa.Integer))
    cases = sa.table("cases", *(sa.column(name) for name in ("revision", "status", "serving")))
    op.execute(cases.update().where(cases.c.status == "approved").values(serving=cases.c.revision))
