"""Stock-takes: what is counted, counts, differences, adjustments, reviews, who read what."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import service.kernel.columns
from service.kernel.database import append_only

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None


APPEND_ONLY = (
    ("counts", ("id",)),
    ("differences", ("id",)),
    ("adjustments", ("id",)),
    ("adjustment_approvals", ("adjustment_id",)),
    ("stock_take_reviews", ("id",)),
    ("content_reads", ("id",)),
)

#: An approval by whoever proposed the adjustment, or counted one of its goblets in that stock-take.
SAME_PERSON = """
    SELECT 1 FROM adjustments AS a
    WHERE a.id = NEW.adjustment_id AND (
        a.proposed_by_id = NEW.approved_by_id
        OR EXISTS (
            SELECT 1 FROM counts AS c
            WHERE c.take_id = a.take_id AND c.by_id = NEW.approved_by_id
              AND c.goblet_id IN (a.goblet_id, a.other_goblet_id)
        )
    )
"""


def somebody_else_approves(dialect: str) -> list[str]:
    """The statements that make the database refuse it, whoever writes."""
    refusal = "whoever proposed or counted does not approve"
    if dialect == "postgresql":
        return [
            "CREATE FUNCTION approved_by_somebody_else() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN IF EXISTS ({SAME_PERSON}) THEN RAISE EXCEPTION '{refusal}' "
            "USING ERRCODE = 'restrict_violation'; END IF; RETURN NEW; END $$",
            "CREATE TRIGGER adjustment_approvals_somebody_else BEFORE INSERT "
            "ON adjustment_approvals FOR EACH ROW EXECUTE FUNCTION approved_by_somebody_else()",
        ]
    return [
        "CREATE TRIGGER adjustment_approvals_somebody_else BEFORE INSERT ON adjustment_approvals "
        f"WHEN EXISTS ({SAME_PERSON}) BEGIN SELECT RAISE(ABORT, '{refusal}'); END"
    ]


def upgrade() -> None:
    op.create_table(
        "count_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("unexplained_straws", sa.Integer(), nullable=False),
        sa.Column("unexplained_straws_a_year", sa.Integer(), nullable=False),
        sa.Column("count_every_days", sa.Integer(), nullable=False),
        sa.Column(
            "confidence_percent", service.kernel.columns.ExactAmount(length=40), nullable=False
        ),
        sa.Column("detect_percent", service.kernel.columns.ExactAmount(length=40), nullable=False),
        sa.CheckConstraint("id = 1", name="count_plan_is_one"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_count_plan")),
    )
    op.create_table(
        "stock_takes",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("scope", sa.JSON(), nullable=False),
        sa.Column("blind", sa.Boolean(), nullable=False),
        sa.Column("seed", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=True),
        sa.Column("sample", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("frozen_at_entry", sa.Integer(), nullable=False),
        sa.Column("frozen_head", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column("opened_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("opened_by_id", sa.Uuid(), nullable=False),
        sa.Column("opened_by", sa.Text(), nullable=False),
        sa.Column("comparisons", sa.Integer(), nullable=False),
        sa.Column("compared_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("compared_at_entry", sa.Integer(), nullable=True),
        sa.Column("compared_head", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=True),
        sa.Column("settled", sa.JSON(), nullable=False),
        sa.Column("closed_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("closed_by", sa.Text(), nullable=True),
        sa.Column("closing_note", sa.Text(), nullable=True),
        sa.Column("report", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("report_sha256", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=True),
        sa.Column("report_entry", sa.Integer(), nullable=True),
        sa.CheckConstraint("state IN ('counting', 'compared', 'closed')", name="stock_take_state"),
        sa.CheckConstraint("(closed_at IS NULL) = (report IS NULL)", name="stock_take_report"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_takes")),
    )
    op.create_table(
        "content_reads",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("take_id", sa.Uuid(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=True),
        sa.Column("route", sa.Text(), nullable=False),
        sa.Column("at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.ForeignKeyConstraint(
            ["take_id"], ["stock_takes.id"], name=op.f("fk_content_reads_take_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_content_reads")),
    )
    with op.batch_alter_table("content_reads", schema=None) as batch_op:
        batch_op.create_index("content_reads_by", ["take_id", "person_id"], unique=False)

    op.create_table(
        "stock_take_reviews",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("take_id", sa.Uuid(), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.Column("role", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("meaning", sa.Text(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.ForeignKeyConstraint(
            ["take_id"], ["stock_takes.id"], name=op.f("fk_stock_take_reviews_take_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_take_reviews")),
    )
    with op.batch_alter_table("stock_take_reviews", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_stock_take_reviews_take_id"), ["take_id"], unique=False
        )

    op.create_table(
        "adjustments",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("take_id", sa.Uuid(), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("other_goblet_id", sa.Uuid(), nullable=True),
        sa.Column("difference", sa.Integer(), nullable=False),
        sa.Column("reason_code", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("proposed_by_id", sa.Uuid(), nullable=False),
        sa.Column("proposed_by", sa.Text(), nullable=False),
        sa.Column("proposed_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.CheckConstraint(
            "reason_code IN ('data-entry-error', 'unrecorded-use', 'label-lost', 'destroyed', 'found-elsewhere', 'supplier-short', 'unexplained')",
            name="adjustment_reason",
        ),
        sa.CheckConstraint("difference <> 0", name="adjustment_of_something"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_adjustments_batch_id")),
        sa.ForeignKeyConstraint(
            ["goblet_id"], ["goblets.id"], name=op.f("fk_adjustments_goblet_id")
        ),
        sa.ForeignKeyConstraint(
            ["other_goblet_id"], ["goblets.id"], name=op.f("fk_adjustments_other_goblet_id")
        ),
        sa.ForeignKeyConstraint(
            ["take_id"], ["stock_takes.id"], name=op.f("fk_adjustments_take_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_adjustments")),
    )
    with op.batch_alter_table("adjustments", schema=None) as batch_op:
        batch_op.create_index("adjustments_of_take", ["take_id"], unique=False)

    op.create_table(
        "counts",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("take_id", sa.Uuid(), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=False),
        sa.Column("round", sa.Integer(), nullable=False),
        sa.Column("started_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("counted_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.Column("batches", sa.JSON(), nullable=False),
        sa.Column("codes", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("unreadable", sa.Integer(), nullable=False),
        sa.Column("foreign", sa.JSON(), nullable=False),
        sa.Column("not_blind", sa.Boolean(), nullable=False),
        sa.CheckConstraint("round >= 1", name="count_round"),
        sa.CheckConstraint("unreadable >= 0", name="count_unreadable"),
        sa.ForeignKeyConstraint(["goblet_id"], ["goblets.id"], name=op.f("fk_counts_goblet_id")),
        sa.ForeignKeyConstraint(["take_id"], ["stock_takes.id"], name=op.f("fk_counts_take_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_counts")),
    )
    with op.batch_alter_table("counts", schema=None) as batch_op:
        batch_op.create_index("counts_of_take", ["take_id", "goblet_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_counts_by_id"), ["by_id"], unique=False)

    op.create_table(
        "stock_take_goblets",
        sa.Column("take_id", sa.Uuid(), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("tank_id", sa.Uuid(), nullable=False),
        sa.Column("tank_name", sa.Text(), nullable=False),
        sa.Column("rounds", sa.Integer(), nullable=False),
        sa.CheckConstraint("rounds >= 1", name="stock_take_goblet_rounds"),
        sa.ForeignKeyConstraint(
            ["goblet_id"], ["goblets.id"], name=op.f("fk_stock_take_goblets_goblet_id")
        ),
        sa.ForeignKeyConstraint(
            ["take_id"], ["stock_takes.id"], name=op.f("fk_stock_take_goblets_take_id")
        ),
        sa.ForeignKeyConstraint(
            ["tank_id"], ["tanks.id"], name=op.f("fk_stock_take_goblets_tank_id")
        ),
        sa.PrimaryKeyConstraint("take_id", "goblet_id", name=op.f("pk_stock_take_goblets")),
    )
    with op.batch_alter_table("stock_take_goblets", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_stock_take_goblets_goblet_id"), ["goblet_id"], unique=False
        )

    op.create_table(
        "adjustment_approvals",
        sa.Column("adjustment_id", sa.Uuid(), nullable=False),
        sa.Column("approved_by_id", sa.Uuid(), nullable=False),
        sa.Column("approved_by", sa.Text(), nullable=False),
        sa.Column("approved_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("entry_seq", sa.Integer(), nullable=False),
        sa.Column("straw_codes", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["adjustment_id"],
            ["adjustments.id"],
            name=op.f("fk_adjustment_approvals_adjustment_id"),
        ),
        sa.ForeignKeyConstraint(
            ["entry_seq"], ["entries.seq"], name=op.f("fk_adjustment_approvals_entry_seq")
        ),
        sa.PrimaryKeyConstraint("adjustment_id", name=op.f("pk_adjustment_approvals")),
    )
    op.create_table(
        "differences",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("take_id", sa.Uuid(), nullable=False),
        sa.Column("comparison", sa.Integer(), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=True),
        sa.Column("count_id", sa.Uuid(), nullable=False),
        sa.Column("expected", sa.Integer(), nullable=False),
        sa.Column("counted", sa.Integer(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=12), nullable=False),
        sa.Column("codes", sa.JSON(), nullable=False),
        sa.Column("foreign", sa.JSON(), nullable=False),
        sa.Column("candidates", sa.JSON(), nullable=False),
        sa.Column("move", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("note", sa.Text(), nullable=False),
        sa.Column("recent", sa.JSON(), nullable=False),
        sa.Column("stories", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "kind IN ('missing', 'surplus', 'wrong-place', 'ambiguous', 'unknown', 'disturbed')",
            name="difference_kind",
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_differences_batch_id")),
        sa.ForeignKeyConstraint(["count_id"], ["counts.id"], name=op.f("fk_differences_count_id")),
        sa.ForeignKeyConstraint(
            ["goblet_id"], ["goblets.id"], name=op.f("fk_differences_goblet_id")
        ),
        sa.ForeignKeyConstraint(
            ["take_id"], ["stock_takes.id"], name=op.f("fk_differences_take_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_differences")),
    )
    with op.batch_alter_table("differences", schema=None) as batch_op:
        batch_op.create_index("differences_of_take", ["take_id", "comparison"], unique=False)

    dialect = op.get_bind().dialect.name
    for table, *unique in APPEND_ONLY:
        for statement in append_only(dialect, table, *unique):
            op.execute(statement)
    for statement in somebody_else_approves(dialect):
        op.execute(statement)
