"""What stands on labels: what a straw must say, how it is printed here, and what was printed."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import service.kernel.columns
from service.kernel.database import append_only

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

APPEND_ONLY = (
    ("prints", ("id",)),
    ("printed_labels", ("print_id", "position")),
)


def upgrade() -> None:
    op.create_table(
        "prints",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("what_kind", sqlmodel.sql.sqltypes.AutoString(length=8), nullable=False),
        sa.Column("what_id", sqlmodel.sql.sqltypes.AutoString(length=32), nullable=False),
        sa.Column("style", sqlmodel.sql.sqltypes.AutoString(length=6), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("missing_marks", sa.JSON(), nullable=False),
        sa.Column("printed_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint("style IN ('strip', 'flag', 'plate', 'plates')", name="print_style"),
        sa.CheckConstraint(
            "what_kind IN ('batch', 'straw', 'goblet', 'canister', 'tank')", name="print_what"
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_prints")),
    )
    op.create_index(op.f("ix_prints_what_id"), "prints", ["what_id"], unique=False)

    op.create_table(
        "printed_labels",
        sa.Column("print_id", sa.Uuid(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.CheckConstraint("number >= 1", name="printed_label_number"),
        sa.ForeignKeyConstraint(
            ["print_id"], ["prints.id"], name=op.f("fk_printed_labels_print_id")
        ),
        sa.PrimaryKeyConstraint("print_id", "position", name=op.f("pk_printed_labels")),
    )
    op.create_index(op.f("ix_printed_labels_code"), "printed_labels", ["code"], unique=False)

    # Plain statements: rebuilding a table, as a batch operation does on SQLite, would break keys.
    yes = "true" if op.get_bind().dialect.name == "postgresql" else "1"
    required = '["collected_on", "species", "donor_identity", "approval_number"]'
    for column in (
        f"required_marks JSON DEFAULT '{required}' NOT NULL",
        "species_mark TEXT DEFAULT 'EQUINE' NOT NULL",
        "label_style VARCHAR(5) DEFAULT 'strip' NOT NULL"
        " CONSTRAINT station_label_style CHECK (label_style IN ('strip', 'flag'))",
        "printer_dpi INTEGER DEFAULT '300' NOT NULL"
        " CONSTRAINT station_printer_dpi CHECK (printer_dpi IN (203, 300, 600))",
        "straw_diameter_mm VARCHAR(40) DEFAULT '2.8' NOT NULL",
        "strip_length_mm VARCHAR(40) DEFAULT '100' NOT NULL",
        "strip_form VARCHAR(4) DEFAULT 'wrap' NOT NULL"
        " CONSTRAINT station_strip_form CHECK (strip_form IN ('band', 'wrap'))",
        f"strip_symbol BOOLEAN DEFAULT {yes} NOT NULL",
    ):
        op.execute(f"ALTER TABLE station ADD COLUMN {column}")

    for table, *unique in APPEND_ONLY:
        for statement in append_only(op.get_bind().dialect.name, table, *unique):
            op.execute(statement)
