"""Columns for finding near-duplicates, filled in for the cases there are, and the results of exercises."""

import sqlalchemy as sa
from alembic import op

from recommender.precedents.store import documents

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_SERIAL = sa.BigInteger().with_variant(sa.Integer, "sqlite")
_BATCH = 500


def upgrade() -> None:
    op.add_column("cases", sa.Column("dentition", sa.String(220)))
    op.add_column("cases", sa.Column("sketch", sa.BigInteger))
    op.create_index("ix_cases_dentition", "cases", ["dentition"])
    _fill()
    op.create_table(
        "results",
        sa.Column("seq", _SERIAL, autoincrement=True, nullable=False),
        sa.Column("learner", sa.String(40), nullable=False),
        sa.Column("exercise", sa.String(40), nullable=False),
        sa.Column("case_id", sa.String(80), nullable=False),
        sa.Column("revision", sa.Integer, nullable=False),
        sa.Column("decision", sa.String(60), nullable=False),
        sa.Column("answer", sa.String(60), nullable=False),
        sa.Column("verdict", sa.String(30), nullable=False),
        sa.Column("principles", sa.Text, nullable=False),
        sa.Column("at", sa.String(24), nullable=False),
        sa.PrimaryKeyConstraint("seq", name="pk_results"),
    )
    op.create_index("ix_results_learner", "results", ["learner"])
    op.create_table(
        "principles",
        sa.Column("learner", sa.String(40), nullable=False),
        sa.Column("principle", sa.String(120), nullable=False),
        sa.Column("box", sa.Integer, nullable=False),
        sa.Column("due", sa.String(24), nullable=False),
        sa.Column("missed", sa.Integer, nullable=False),
        sa.Column("met", sa.Integer, nullable=False),
        sa.PrimaryKeyConstraint("learner", "principle", name="pk_principles"),
    )


def _fill() -> None:
    connection = op.get_bind()
    cases = sa.table("cases", *(sa.column(name) for name in ("id", "revision", "dentition", "sketch")))
    versions = sa.table("versions", *(sa.column(name) for name in ("case_id", "revision", "document")))
    after = ""
    while True:
        rows = connection.execute(
            sa.select(cases.c.id, versions.c.document)
            .join(versions, (versions.c.case_id == cases.c.id) & (versions.c.revision == cases.c.revision))
            .where(cases.c.id > after)
            .order_by(cases.c.id)
            .limit(_BATCH)
        ).all()
        if not rows:
            return
        filled = []
        for row in rows:
            case = documents.load(row.document)
            bits = documents.sketch(documents.leaf_digests(documents.as_data(case)))
            filled.append({"of": row.id, "teeth": documents.dentition(case), "bits": bits})
        connection.execute(
            cases.update()
            .where(cases.c.id == sa.bindparam("of"))
            .values(dentition=sa.bindparam("teeth"), sketch=sa.bindparam("bits")),
            filled,
        )
        after = rows[-1].id
