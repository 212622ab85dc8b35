"""Run by alembic: the whole migration is one transaction, on SQLite too, so a stop half-way leaves the old
library.
"""

from alembic import context

from recommender.precedents.store.schema import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=True,
    transactional_ddl=True,
    compare_type=True,
)
# the caller has begun the transaction and ends it
context.run_migrations()
