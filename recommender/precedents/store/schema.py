"""Tables of a library. ``versions`` is only ever added to; ``cases`` points at the latest version of each
case.

The document of a case stands whole in ``versions``; ``cases`` carries the columns that queries need.
Times are UTC texts (``2026-01-31T09:30:00.123Z``), which sort alike on every database.
"""

from sqlalchemy import (
    BigInteger,
    Boolean,
    Column,
    ForeignKey,
    Index,
    Integer,
    MetaData,
    String,
    Table,
    Text,
    UniqueConstraint,
)

# Revisions of the tables, oldest first; the last one is what this program reads and writes.
REVISIONS = ("0001", "0002", "0003", "0004", "0005", "0006", "0007")
HEAD = REVISIONS[-1]
APPLICATION_ID = 0x52504443  # marks a SQLite file as a case library

metadata = MetaData(
    naming_convention={
        "ix": "ix_%(column_0_label)s",
        "uq": "uq_%(table_name)s_%(column_0_name)s",
        "fk": "fk_%(table_name)s_%(column_0_name)s_%(referred_table_name)s",
        "pk": "pk_%(table_name)s",
    }
)
_Serial = BigInteger().with_variant(Integer, "sqlite")

cases = Table(
    "cases",
    metadata,
    Column("id", String(80), primary_key=True),
    Column("revision", Integer, nullable=False),
    Column("arch", String(8), nullable=False),
    Column("kennedy", String(60)),
    Column("status", String(8), nullable=False),
    Column("outcome_known", Boolean, nullable=False),
    Column("age", String(3)),
    Column("fingerprint", String(64), nullable=False),
    Column("format", Integer, nullable=False),
    Column("title", Text),
    Column("updated_at", String(24), nullable=False),
    Column("dentition", String(220)),
    Column("sketch", BigInteger),
    Column(
        "serving", Integer
    ),  # the approved revision that serves as a precedent; a later one waits for a reviewer
    Index("ix_cases_arch_kennedy", "arch", "kennedy"),
    Index("ix_cases_status", "status"),
    Index("ix_cases_fingerprint", "fingerprint"),
    Index("ix_cases_dentition", "dentition"),
)

versions = Table(
    "versions",
    metadata,
    Column("seq", _Serial, primary_key=True, autoincrement=True),
    Column("case_id", String(80), ForeignKey("cases.id"), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("kind", String(12), nullable=False),
    Column("who", String(40), nullable=False),
    Column("at", String(24), nullable=False),
    Column("why", Text, nullable=False),
    Column("document", Text, nullable=False),
    Column("checksum", String(64), nullable=False),
    UniqueConstraint("case_id", "revision", name="uq_versions_case_id"),
)

settings = Table(
    "settings",
    metadata,
    Column("key", String(60), primary_key=True),
    Column("value", Text, nullable=False),
)

mappings = Table(  # which column of a spreadsheet means which field, remembered by its heading row
    "mappings",
    metadata,
    Column("headings", String(64), primary_key=True),
    Column("shown", Text, nullable=False),
    Column("mapping", Text, nullable=False),
    Column("who", String(40), nullable=False),
    Column("at", String(24), nullable=False),
)

imports = Table(  # how far an import has come, so that it can go on after a stop
    "imports",
    metadata,
    Column("digest", String(64), primary_key=True),
    Column("name", Text, nullable=False),
    Column("done", Integer, nullable=False),
    Column("finished", Boolean, nullable=False),
    Column("who", String(40), nullable=False),
    Column("at", String(24), nullable=False),
)

imported = Table(  # what the source of an imported case said of it last, for telling its news from our own
    "imported",
    metadata,
    Column("case_id", String(80), ForeignKey("cases.id"), primary_key=True),
    Column("document", Text, nullable=False),
    Column("checksum", String(64), nullable=False),
    Column("at", String(24), nullable=False),
)

looked = Table(  # a free text that looked like patient identity and that somebody has looked at
    "looked",
    metadata,
    Column("case_id", String(80), ForeignKey("cases.id"), primary_key=True),
    Column("mark", String(64), primary_key=True),
    Column("who", String(40), nullable=False),
    Column("at", String(24), nullable=False),
    Column("note", Text, nullable=False),
)

results = Table(  # one line for each decision that a learner answered
    "results",
    metadata,
    Column("seq", _Serial, primary_key=True, autoincrement=True),
    Column("learner", String(40), nullable=False),
    Column("exercise", String(40), nullable=False),
    Column("case_id", String(80), nullable=False),
    Column("revision", Integer, nullable=False),
    Column("decision", String(60), nullable=False),
    Column("answer", String(60), nullable=False),
    Column("verdict", String(30), nullable=False),
    Column("principles", Text, nullable=False),
    Column("at", String(24), nullable=False),
    Index("ix_results_learner", "learner"),
)

principles = Table(  # spaced repetition: in which box a principle lies for a learner, and when it is due
    "principles",
    metadata,
    Column("learner", String(40), primary_key=True),
    Column("principle", String(120), primary_key=True),
    Column("box", Integer, nullable=False),
    Column("due", String(24), nullable=False),
    Column("missed", Integer, nullable=False),
    Column("met", Integer, nullable=False),
    Column("card", Text),  # what the spacing rests on, see curation.teaching.spacing
)

profiles = Table(  # the house's own hand, each profile as it was adopted; the last row counts, an empty one says none
    "profiles",
    metadata,
    Column("seq", _Serial, primary_key=True, autoincrement=True),
    Column("who", String(40), nullable=False),
    Column("at", String(24), nullable=False),
    Column("document", Text, nullable=False),
    Column("checksum", String(64), nullable=False),
)

people = Table(  # a team on a server: who may do what; a library in a file has one person's rights, and no rows here
    "people",
    metadata,
    Column("alias", String(40), primary_key=True),
    Column("role", String(10), nullable=False),
    Column("login", String(200), unique=True),  # by which claim of the identity provider the person is known
    Column("database_user", String(63), unique=True),
    Column("who", String(40), nullable=False),
    Column("at", String(24), nullable=False),
    Column("ended", String(24)),
)

sessions = Table(  # log-ins through the screens; of the token only a digest is kept
    "sessions",
    metadata,
    Column("login_key", String(64), primary_key=True),
    Column("alias", String(40), ForeignKey("people.alias"), nullable=False),
    Column("token", String(64), nullable=False, unique=True),
    Column("began", String(24), nullable=False),
    Column("seen", String(24), nullable=False),
    Column("ended", String(24)),
)

# What a backup carries, in an order that satisfies the foreign keys. Who works here is no part of it: a backup that is
# put back gives nobody rights.
TABLES = (settings, cases, versions, imported, mappings, imports, looked, results, principles, profiles)
