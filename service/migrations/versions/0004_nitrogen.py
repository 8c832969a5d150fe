"""Nitrogen: rooms, levels, top-ups, what was struck, rounds, and keys to their calendar."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import service.kernel.columns
from service.kernel.database import append_only

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None

APPEND_ONLY = (
    ("levels", ("id",)),
    ("top_ups", ("id",)),
    ("nitrogen_strikes", ("id",), ("level_id",), ("top_up_id",)),
)


def upgrade() -> None:
    op.create_table(
        "rooms",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("volume_m3", service.kernel.columns.ExactAmount(length=40), nullable=False),
        sa.Column(
            "air_changes_per_hour", service.kernel.columns.ExactAmount(length=40), nullable=False
        ),
        sa.Column("ventilation", sqlmodel.sql.sqltypes.AutoString(length=7), nullable=False),
        sa.Column("expansion_ratio", service.kernel.columns.ExactAmount(length=40), nullable=False),
        sa.Column("oxygen_percent", service.kernel.columns.ExactAmount(length=40), nullable=False),
        sa.Column("ageing_factor", service.kernel.columns.ExactAmount(length=40), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("retired_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("ventilation IN ('supply', 'exhaust', 'none')", name="room_ventilation"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_rooms")),
    )
    with op.batch_alter_table("rooms", schema=None) as batch_op:
        batch_op.create_index(
            "room_names_in_use",
            ["name"],
            unique=True,
            sqlite_where=sa.text("retired_at IS NULL"),
            postgresql_where=sa.text("retired_at IS NULL"),
        )

    op.create_table(
        "round_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("fill_weekdays", sa.JSON(), nullable=False),
        sa.Column(
            "confidence_percent", service.kernel.columns.ExactAmount(length=40), nullable=False
        ),
        sa.Column("level_every_days", sa.Integer(), nullable=False),
        sa.Column(
            "supply_capacity_litres", service.kernel.columns.ExactAmount(length=40), nullable=True
        ),
        sa.Column("supply_litres", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("supply_measured_on", sa.Date(), nullable=True),
        sa.Column(
            "supply_loss_litres_per_day",
            service.kernel.columns.ExactAmount(length=40),
            nullable=True,
        ),
        sa.Column("deliveries", sa.JSON(), nullable=False),
        sa.CheckConstraint("id = 1", name="round_plan_is_one"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_round_plan")),
    )
    op.create_table(
        "calendar_keys",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("user_id", sa.Uuid(), nullable=False),
        sa.Column("key_hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("revoked_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.ForeignKeyConstraint(["user_id"], ["users.id"], name=op.f("fk_calendar_keys_user_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_keys")),
        sa.UniqueConstraint("key_hash", name=op.f("uq_calendar_keys_key_hash")),
    )
    with op.batch_alter_table("calendar_keys", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_calendar_keys_user_id"), ["user_id"], unique=False)

    op.create_table(
        "levels",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("tank_id", sa.Uuid(), nullable=False),
        sa.Column("measured_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("level_cm", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("litres", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("weight_kg", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("signs", sa.JSON(), nullable=False),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "(CASE WHEN level_cm IS NULL THEN 0 ELSE 1 END) + (CASE WHEN litres IS NULL THEN 0 ELSE 1 END) + (CASE WHEN weight_kg IS NULL THEN 0 ELSE 1 END) = 1",
            name="level_read_one_way",
        ),
        sa.ForeignKeyConstraint(["tank_id"], ["tanks.id"], name=op.f("fk_levels_tank_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_levels")),
    )
    with op.batch_alter_table("levels", schema=None) as batch_op:
        batch_op.create_index("levels_of_tank", ["tank_id", "measured_at"], unique=False)

    op.create_table(
        "top_ups",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("tank_id", sa.Uuid(), nullable=False),
        sa.Column("filled_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("level_after_cm", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("litres_added", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "(level_after_cm IS NULL) <> (litres_added IS NULL)", name="top_up_read_one_way"
        ),
        sa.ForeignKeyConstraint(["tank_id"], ["tanks.id"], name=op.f("fk_top_ups_tank_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_top_ups")),
    )
    with op.batch_alter_table("top_ups", schema=None) as batch_op:
        batch_op.create_index("top_ups_of_tank", ["tank_id", "filled_at"], unique=False)

    op.create_table(
        "nitrogen_strikes",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("level_id", sa.Uuid(), nullable=True),
        sa.Column("top_up_id", sa.Uuid(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("struck_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint("(level_id IS NULL) <> (top_up_id IS NULL)", name="strike_of_one"),
        sa.ForeignKeyConstraint(
            ["level_id"], ["levels.id"], name=op.f("fk_nitrogen_strikes_level_id")
        ),
        sa.ForeignKeyConstraint(
            ["top_up_id"], ["top_ups.id"], name=op.f("fk_nitrogen_strikes_top_up_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_nitrogen_strikes")),
        sa.UniqueConstraint("level_id", name=op.f("uq_nitrogen_strikes_level_id")),
        sa.UniqueConstraint("top_up_id", name=op.f("uq_nitrogen_strikes_top_up_id")),
    )

    # Plain statements: rebuilding a table that others refer to would break its keys on SQLite.
    uuid = "UUID" if op.get_bind().dialect.name == "postgresql" else "CHAR(32)"
    op.execute(
        f"ALTER TABLE tanks ADD COLUMN room_id {uuid}"
        " CONSTRAINT fk_tanks_room_id REFERENCES rooms (id)"
    )
    op.create_index("ix_tanks_room_id", "tanks", ["room_id"], unique=False)

    for table, *unique in APPEND_ONLY:
        for statement in append_only(op.get_bind().dialect.name, table, *unique):
            op.execute(statement)
