"""Alembic's entry: runs the migrations on the connection it is given."""

from alembic import context
from sqlmodel import SQLModel

# Every module that has tables, so that the check compares the whole shape.
import service.bank.rooms
import service.bank.store
import service.edge.replay
import service.edge.versions
import service.ledger.store
import service.nitrogen.store
import service.people.store
import service.printing.store
import service.transfers.store
import service.withdrawals.store  # noqa: F401

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=SQLModel.metadata,
    render_as_batch=True,
    compare_type=True,
)
context.run_migrations()
