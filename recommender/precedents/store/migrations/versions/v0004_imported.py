"""What the source of each imported case said of it last. Of older imports that is the last version that came in by one,
save its review state, which an import sets itself.
"""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "imported",
        sa.Column("case_id", sa.String(80), nullable=False),
        sa.Column("document", sa.Text, nullable=False),
        sa.Column("checksum", sa.String(64), nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("case_id", name="pk_imported"),
        sa.ForeignKeyConstraint(["case_id"], ["cases.id"], name="fk_imported_case_id_cases"),
    )
    op.execute(
        "INSERT INTO imported (case_id, document, checksum, at) "
        "SELECT v.case_id, v.document, v.checksum, v.at FROM versions v WHERE v.kind = 'imported' AND v.revision = "
        "(SELECT max(w.revision) FROM versions w WHERE w.case_id = v.case_id AND w.kind = 'imported')"
    )
