"""Straws that come and go: receipts, dispatches, tests, promises, owners, goblets that move."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import service.kernel.columns
from service.kernel.database import append_only

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

APPEND_ONLY = (
    ("goblet_moves", ("id",), ("goblet_id", "entry_seq")),
    ("batch_tests", ("id",)),
    ("dispatch_seals", ("id",)),
)


def upgrade() -> None:
    # Columns are added by plain statements: rebuilding a table that others refer to, as a batch
    # operation does on SQLite, would break its keys.
    uuid = "UUID" if op.get_bind().dialect.name == "postgresql" else "CHAR(32)"
    op.create_table(
        "dispatches",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("to", sa.Text(), nullable=False),
        sa.Column("to_approval_number", sa.Text(), nullable=True),
        sa.Column("container", sa.Text(), nullable=True),
        sa.Column("carrier", sa.Text(), nullable=True),
        sa.Column(
            "holding_days_rated", service.kernel.columns.ExactAmount(length=40), nullable=True
        ),
        sa.Column("filled_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("straws", sa.Integer(), nullable=False),
        sa.Column("occurred_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint("straws >= 1", name="dispatch_of_straws"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dispatches")),
    )
    with op.batch_alter_table("dispatches", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_dispatches_recorded_at"), ["recorded_at"], unique=False
        )

    op.create_table(
        "dispatch_seals",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("dispatch_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Text(), nullable=False),
        sa.Column("applied_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["dispatch_id"], ["dispatches.id"], name=op.f("fk_dispatch_seals_dispatch_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dispatch_seals")),
    )
    with op.batch_alter_table("dispatch_seals", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_dispatch_seals_dispatch_id"), ["dispatch_id"], unique=False
        )

    op.create_table(
        "promises",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("stallion_id", sa.Uuid(), nullable=False),
        sa.Column("mare_id", sa.Uuid(), nullable=True),
        sa.Column("owner", sa.Text(), nullable=True),
        sa.Column("doses", sa.Integer(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("made_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.Column("ended_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("ended_by_name", sa.Text(), nullable=True),
        sa.Column("end_reason", sa.Text(), nullable=True),
        sa.CheckConstraint("(ended_at IS NULL) = (ended_by_name IS NULL)", name="promise_ended"),
        sa.CheckConstraint("(mare_id IS NULL) <> (owner IS NULL)", name="promise_to_one"),
        sa.CheckConstraint("doses >= 1", name="promise_doses_positive"),
        sa.ForeignKeyConstraint(["mare_id"], ["mares.id"], name=op.f("fk_promises_mare_id")),
        sa.ForeignKeyConstraint(
            ["stallion_id"], ["stallions.id"], name=op.f("fk_promises_stallion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_promises")),
    )
    with op.batch_alter_table("promises", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_promises_mare_id"), ["mare_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_promises_stallion_id"), ["stallion_id"], unique=False)

    op.create_table(
        "batch_tests",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("test", sa.Text(), nullable=False),
        sa.Column("sampled_on", sa.Date(), nullable=False),
        sa.Column("result", sqlmodel.sql.sqltypes.AutoString(length=8), nullable=False),
        sa.Column("laboratory", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "result IN ('negative', 'positive', 'pending')", name="batch_test_result"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_batch_tests_batch_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batch_tests")),
    )
    with op.batch_alter_table("batch_tests", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batch_tests_batch_id"), ["batch_id"], unique=False)

    op.create_table(
        "goblet_moves",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("entry_seq", sa.Integer(), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=False),
        sa.Column("from_canister_id", sa.Uuid(), nullable=False),
        sa.Column("to_canister_id", sa.Uuid(), nullable=False),
        sa.Column("from_address", sa.Text(), nullable=False),
        sa.Column("to_address", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["entry_seq"], ["entries.seq"], name=op.f("fk_goblet_moves_entry_seq")
        ),
        sa.ForeignKeyConstraint(
            ["from_canister_id"], ["canisters.id"], name=op.f("fk_goblet_moves_from_canister_id")
        ),
        sa.ForeignKeyConstraint(
            ["goblet_id"], ["goblets.id"], name=op.f("fk_goblet_moves_goblet_id")
        ),
        sa.ForeignKeyConstraint(
            ["to_canister_id"], ["canisters.id"], name=op.f("fk_goblet_moves_to_canister_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_goblet_moves")),
        sa.UniqueConstraint("goblet_id", "entry_seq", name="goblet_moved_once_an_entry"),
    )
    with op.batch_alter_table("goblet_moves", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_goblet_moves_entry_seq"), ["entry_seq"], unique=False)

    for column in (
        "origin VARCHAR(8) DEFAULT 'frozen' NOT NULL"
        " CONSTRAINT batch_origin CHECK (origin IN ('frozen', 'opening', 'received'))",
        f"receipt_id {uuid}",
        "received_from TEXT",
        "marks_as_read TEXT",
    ):
        op.execute(f"ALTER TABLE batches ADD COLUMN {column}")
    op.create_index("batch_receipts", "batches", ["receipt_id"], unique=True)

    for column in (
        "days_in_store INTEGER DEFAULT '30' NOT NULL"
        " CONSTRAINT station_days_in_store CHECK (days_in_store >= 0)",
        """required_tests JSON DEFAULT '["EIA", "EVA", "CEM"]' NOT NULL""",
    ):
        op.execute(f"ALTER TABLE station ADD COLUMN {column}")

    op.execute("ALTER TABLE straws ADD COLUMN owner TEXT")
    op.create_index(
        "straws_owned",
        "straws",
        ["batch_id", "owner", "state", "goblet_id"],
        sqlite_where=sa.text("owner IS NOT NULL"),
        postgresql_where=sa.text("owner IS NOT NULL"),
    )

    for column in (
        "taken_by TEXT",
        "owner TEXT",
        f"promise_id {uuid} CONSTRAINT fk_withdrawals_promise_id REFERENCES promises (id)",
    ):
        op.execute(f"ALTER TABLE withdrawals ADD COLUMN {column}")
    op.create_index("ix_withdrawals_promise_id", "withdrawals", ["promise_id"])

    for table, *unique in APPEND_ONLY:
        for statement in append_only(op.get_bind().dialect.name, table, *unique):
            op.execute(statement)
