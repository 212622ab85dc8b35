"""What the spacing of a principle rests on: how well it is kept and how hard it is for its learner, as text."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("principles", sa.Column("card", sa.Text))
