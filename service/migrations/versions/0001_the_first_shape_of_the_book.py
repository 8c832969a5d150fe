"""The first shape of the book."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import service.kernel.columns
from service.kernel.database import append_only

#: Tables that are added to and never changed, with every key that may not come twice.
APPEND_ONLY = (
    ("entries", ("seq",), ("id",), ("hash",)),
    ("lines", ("entry_seq", "number"), ("straw_code", "entry_seq")),
    ("answers", ("id",)),
    ("record_changes", ("id",)),
    ("security_events", ("seq",), ("hash",)),
    ("dose_rules", ("id",), ("stallion_id", "number")),
    ("post_thaw_results", ("id",)),
    ("outcomes", ("id",)),
)

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "answers",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("fingerprint", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("answered_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_answers")),
    )
    op.create_table(
        "mares",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("folded_name", sa.Text(), nullable=False),
        sa.Column("ueln", sqlmodel.sql.sqltypes.AutoString(length=15), nullable=True),
        sa.Column("owner", sa.Text(), nullable=True),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_mares")),
    )
    with op.batch_alter_table("mares", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_mares_folded_name"), ["folded_name"], unique=False)

    op.create_table(
        "record_changes",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("record_id", sa.Uuid(), nullable=False),
        sa.Column("changed_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("changed_by", sa.Uuid(), nullable=False),
        sa.Column("changed_by_name", sa.Text(), nullable=False),
        sa.Column("before", sa.JSON(), nullable=False),
        sa.Column("after", sa.JSON(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_record_changes")),
    )
    with op.batch_alter_table("record_changes", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_record_changes_kind"), ["kind"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_record_changes_record_id"), ["record_id"], unique=False
        )

    op.create_table(
        "sign_in_tries",
        sa.Column("bucket", sqlmodel.sql.sqltypes.AutoString(length=80), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("last_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.CheckConstraint("count >= 1", name="sign_in_tries_count"),
        sa.PrimaryKeyConstraint("bucket", name=op.f("pk_sign_in_tries")),
    )
    op.create_table(
        "stallions",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("folded_name", sa.Text(), nullable=False),
        sa.Column("ueln", sqlmodel.sql.sqltypes.AutoString(length=15), nullable=True),
        sa.Column("microchip", sqlmodel.sql.sqltypes.AutoString(length=15), nullable=True),
        sa.Column("breed", sa.Text(), nullable=True),
        sa.Column("foaled_on", sa.Date(), nullable=True),
        sa.Column("died_on", sa.Date(), nullable=True),
        sa.Column("owner", sa.Text(), nullable=True),
        sa.Column("straw_colour", sa.Text(), nullable=True),
        sa.Column("low_stock_doses", sa.Integer(), nullable=True),
        sa.Column("reserve_doses", sa.Integer(), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.CheckConstraint(
            "low_stock_doses IS NULL OR low_stock_doses >= 0", name="low_stock_doses"
        ),
        sa.CheckConstraint("reserve_doses >= 0", name="reserve_doses"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stallions")),
        sa.UniqueConstraint("microchip", name=op.f("uq_stallions_microchip")),
        sa.UniqueConstraint("ueln", name=op.f("uq_stallions_ueln")),
    )
    with op.batch_alter_table("stallions", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stallions_folded_name"), ["folded_name"], unique=False)

    op.create_table(
        "station",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("country", sqlmodel.sql.sqltypes.AutoString(length=2), nullable=True),
        sa.Column("approval_number", sa.Text(), nullable=True),
        sa.Column("processing_approval_number", sa.Text(), nullable=True),
        sa.Column("time_zone", sa.Text(), nullable=False),
        sa.Column("mark_date_format", sa.Text(), nullable=False),
        sa.Column("level_unit", sa.Text(), nullable=False),
        sa.CheckConstraint("id = 1", name="station_is_one"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_station")),
    )
    op.create_table(
        "tanks",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("short_name", sqlmodel.sql.sqltypes.AutoString(length=8), nullable=False),
        sa.Column("capacity_litres", service.kernel.columns.ExactAmount(length=40), nullable=False),
        sa.Column(
            "rated_loss_litres_per_day",
            service.kernel.columns.ExactAmount(length=40),
            nullable=False,
        ),
        sa.Column(
            "minimum_level_cm", service.kernel.columns.ExactAmount(length=40), nullable=False
        ),
        sa.Column("empty_weight_kg", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("calibration", sa.JSON(), nullable=False),
        sa.Column("quarantine", sa.Boolean(), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("retired_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tanks")),
        sa.UniqueConstraint("code", name=op.f("uq_tanks_code")),
    )
    with op.batch_alter_table("tanks", schema=None) as batch_op:
        batch_op.create_index(
            "tank_names_in_use",
            ["name"],
            unique=True,
            sqlite_where=sa.text("retired_at IS NULL"),
            postgresql_where=sa.text("retired_at IS NULL"),
        )
        batch_op.create_index(
            "tank_short_names_in_use",
            ["short_name"],
            unique=True,
            sqlite_where=sa.text("retired_at IS NULL"),
            postgresql_where=sa.text("retired_at IS NULL"),
        )

    op.create_table(
        "users",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("username", sqlmodel.sql.sqltypes.AutoString(length=60), nullable=False),
        sa.Column("display_name", sa.Text(), nullable=False),
        sa.Column("role", sa.Text(), nullable=False),
        sa.Column("password_hash", sa.Text(), nullable=True),
        sa.Column("one_time_code_hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=True),
        sa.Column(
            "one_time_code_expires_at", service.kernel.columns.UtcMoment(length=27), nullable=True
        ),
        sa.Column("disabled_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.CheckConstraint("role IN ('technician', 'vet', 'manager', 'auditor')", name="user_role"),
        sa.CheckConstraint("username <> ''", name="user_name_filled"),
        sa.CheckConstraint(
            "(one_time_code_hash IS NULL) = (one_time_code_expires_at IS NULL)",
            name="user_code_expires",
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_users")),
        sa.UniqueConstraint("username", name="user_names"),
    )
    op.create_table(
        "batches",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("stallion_id", sa.Uuid(), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(length=8), nullable=False),
        sa.Column("straws_planned", sa.Integer(), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("freeze_id", sa.Uuid(), nullable=True),
        sa.Column("collected_on", sa.Date(), nullable=True),
        sa.Column("collected_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("collected_where", sa.Text(), nullable=True),
        sa.Column("approval_number", sa.Text(), nullable=True),
        sa.Column(
            "collection_volume_ml", service.kernel.columns.ExactAmount(length=40), nullable=True
        ),
        sa.Column(
            "collection_concentration_million_per_ml",
            service.kernel.columns.ExactAmount(length=40),
            nullable=True,
        ),
        sa.Column(
            "collection_progressive_motility_percent",
            service.kernel.columns.ExactAmount(length=40),
            nullable=True,
        ),
        sa.Column("recovery_percent", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("extender", sa.Text(), nullable=True),
        sa.Column("straw_volume_ml", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column(
            "straw_concentration_million_per_ml",
            service.kernel.columns.ExactAmount(length=40),
            nullable=True,
        ),
        sa.Column("straw_colour", sa.Text(), nullable=True),
        sa.Column(
            "post_thaw_percent", service.kernel.columns.ExactAmount(length=40), nullable=True
        ),
        sa.Column(
            "post_thaw_minutes", service.kernel.columns.ExactAmount(length=40), nullable=True
        ),
        sa.Column("thaw", sa.JSON(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.CheckConstraint("state IN ('prepared', 'frozen')", name="batch_state"),
        sa.CheckConstraint("straws_planned >= 0", name="batch_straws_planned"),
        sa.ForeignKeyConstraint(
            ["stallion_id"], ["stallions.id"], name=op.f("fk_batches_stallion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_batches")),
        sa.UniqueConstraint("code", name=op.f("uq_batches_code")),
        sa.UniqueConstraint("freeze_id", name=op.f("uq_batches_freeze_id")),
    )
    with op.batch_alter_table("batches", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_batches_stallion_id"), ["stallion_id"], unique=False)

    op.create_table(
        "canisters",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("tank_id", sa.Uuid(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("retired_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("number >= 1", name="canister_number_positive"),
        sa.ForeignKeyConstraint(["tank_id"], ["tanks.id"], name=op.f("fk_canisters_tank_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_canisters")),
        sa.UniqueConstraint("code", name=op.f("uq_canisters_code")),
    )
    with op.batch_alter_table("canisters", schema=None) as batch_op:
        batch_op.create_index(
            "canister_numbers_in_use",
            ["tank_id", "number"],
            unique=True,
            sqlite_where=sa.text("retired_at IS NULL"),
            postgresql_where=sa.text("retired_at IS NULL"),
        )
        batch_op.create_index(batch_op.f("ix_canisters_tank_id"), ["tank_id"], unique=False)

    op.create_table(
        "dose_rules",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("stallion_id", sa.Uuid(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=6), nullable=False),
        sa.Column("straws", sa.Integer(), nullable=True),
        sa.Column(
            "progressive_million", service.kernel.columns.ExactAmount(length=40), nullable=True
        ),
        sa.Column(
            "minimum_post_thaw_percent",
            service.kernel.columns.ExactAmount(length=40),
            nullable=True,
        ),
        sa.Column("since", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("set_by", sa.Uuid(), nullable=False),
        sa.Column("set_by_name", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "(kind = 'straws' AND straws >= 1 AND progressive_million IS NULL AND minimum_post_thaw_percent IS NULL) OR (kind = 'sperm' AND straws IS NULL AND progressive_million IS NOT NULL AND minimum_post_thaw_percent IS NOT NULL)",
            name="dose_rule_kind",
        ),
        sa.ForeignKeyConstraint(
            ["stallion_id"], ["stallions.id"], name=op.f("fk_dose_rules_stallion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_dose_rules")),
        sa.UniqueConstraint("stallion_id", "number", name="dose_rule_order"),
    )
    op.create_table(
        "security_events",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=40), nullable=False),
        sa.Column("at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=True),
        sa.Column("about_id", sa.Uuid(), nullable=True),
        sa.Column("text", sa.Text(), nullable=False),
        sa.Column("hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.CheckConstraint("length(hash) = 64", name="security_event_hashed"),
        sa.CheckConstraint("seq >= 1", name="security_event_seq"),
        sa.ForeignKeyConstraint(
            ["about_id"], ["users.id"], name=op.f("fk_security_events_about_id")
        ),
        sa.ForeignKeyConstraint(["by_id"], ["users.id"], name=op.f("fk_security_events_by_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_security_events")),
    )
    op.create_table(
        "sessions",
        sa.Column("token_hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column("user_id", sa.Uuid(), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("last_seen_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("expires_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("must_set_password", sa.Boolean(), nullable=False),
        sa.CheckConstraint("expires_at > created_at", name="session_expires"),
        sa.CheckConstraint("length(token_hash) = 64", name="session_token_hashed"),
        sa.ForeignKeyConstraint(["user_id"], ["users.id"], name=op.f("fk_sessions_user_id")),
        sa.PrimaryKeyConstraint("token_hash", name=op.f("pk_sessions")),
    )
    with op.batch_alter_table("sessions", schema=None) as batch_op:
        batch_op.create_index("sessions_of_user", ["user_id"], unique=False)

    op.create_table(
        "tokens",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("user_id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("token_hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("expires_on", sa.Date(), nullable=False),
        sa.Column("revoked_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_used_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("length(token_hash) = 64", name="token_hashed"),
        sa.ForeignKeyConstraint(["user_id"], ["users.id"], name=op.f("fk_tokens_user_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_tokens")),
        sa.UniqueConstraint("token_hash", name="token_hashes"),
    )
    with op.batch_alter_table("tokens", schema=None) as batch_op:
        batch_op.create_index("tokens_of_user", ["user_id"], unique=False)

    op.create_table(
        "withdrawals",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("stallion_id", sa.Uuid(), nullable=False),
        sa.Column("mare_id", sa.Uuid(), nullable=False),
        sa.Column("doses", sa.Integer(), nullable=False),
        sa.Column("rule", sa.JSON(), nullable=False),
        sa.Column("override_reason", sa.Text(), nullable=True),
        sa.Column("release_reserve", sa.Text(), nullable=True),
        sa.Column("occurred_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.CheckConstraint("doses >= 1", name="withdrawal_doses_positive"),
        sa.ForeignKeyConstraint(["mare_id"], ["mares.id"], name=op.f("fk_withdrawals_mare_id")),
        sa.ForeignKeyConstraint(
            ["stallion_id"], ["stallions.id"], name=op.f("fk_withdrawals_stallion_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_withdrawals")),
    )
    with op.batch_alter_table("withdrawals", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_withdrawals_mare_id"), ["mare_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_withdrawals_stallion_id"), ["stallion_id"], unique=False
        )

    op.create_table(
        "entries",
        sa.Column("seq", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.Column("occurred_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("reason", sa.Text(), nullable=True),
        sa.Column("withdrawal_id", sa.Uuid(), nullable=True),
        sa.Column("batch_id", sa.Uuid(), nullable=True),
        sa.Column("facts", sa.Text(), nullable=False),
        sa.Column("hash", sqlmodel.sql.sqltypes.AutoString(length=64), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_entries_batch_id")),
        sa.PrimaryKeyConstraint("seq", name=op.f("pk_entries")),
        sa.UniqueConstraint("hash", name=op.f("uq_entries_hash")),
        sa.UniqueConstraint("id", name=op.f("uq_entries_id")),
    )
    with op.batch_alter_table("entries", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_entries_batch_id"), ["batch_id"], unique=False)
        batch_op.create_index(batch_op.f("ix_entries_by_id"), ["by_id"], unique=False)
        batch_op.create_index(
            batch_op.f("ix_entries_withdrawal_id"), ["withdrawal_id"], unique=False
        )

    op.create_table(
        "goblets",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("canister_id", sa.Uuid(), nullable=False),
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("tier", sqlmodel.sql.sqltypes.AutoString(length=5), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("capacity_straws", sa.Integer(), nullable=False),
        sa.Column("retired_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("tier IN ('upper', 'lower')", name="goblet_tier"),
        sa.CheckConstraint("capacity_straws >= 1", name="goblet_capacity_positive"),
        sa.ForeignKeyConstraint(
            ["canister_id"], ["canisters.id"], name=op.f("fk_goblets_canister_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_goblets")),
        sa.UniqueConstraint("code", name=op.f("uq_goblets_code")),
    )
    with op.batch_alter_table("goblets", schema=None) as batch_op:
        batch_op.create_index(
            "goblet_addresses_in_use",
            ["address"],
            unique=True,
            sqlite_where=sa.text("retired_at IS NULL"),
            postgresql_where=sa.text("retired_at IS NULL"),
        )
        batch_op.create_index(batch_op.f("ix_goblets_canister_id"), ["canister_id"], unique=False)

    op.create_table(
        "holds",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("until", sa.Date(), nullable=True),
        sa.Column("placed_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("placed_by", sa.Uuid(), nullable=False),
        sa.Column("placed_by_name", sa.Text(), nullable=False),
        sa.Column("released_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("released_by", sa.Uuid(), nullable=True),
        sa.Column("released_by_name", sa.Text(), nullable=True),
        sa.Column("release_reason", sa.Text(), nullable=True),
        sa.CheckConstraint(
            "(released_at IS NULL) = (released_by IS NULL)", name="hold_release_complete"
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_holds_batch_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_holds")),
    )
    with op.batch_alter_table("holds", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_holds_batch_id"), ["batch_id"], unique=False)

    op.create_table(
        "inseminations",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("withdrawal_id", sa.Uuid(), nullable=False),
        sa.Column("inseminated_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("straws_used", sa.Integer(), nullable=False),
        sa.Column("straws_thawed_unused", sa.Integer(), nullable=False),
        sa.Column("method", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.Column("corrected_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("straws_thawed_unused >= 0", name="insemination_thawed_unused"),
        sa.CheckConstraint(
            "straws_used + straws_thawed_unused >= 1", name="insemination_of_straws"
        ),
        sa.CheckConstraint("straws_used >= 0", name="insemination_used"),
        sa.ForeignKeyConstraint(
            ["withdrawal_id"], ["withdrawals.id"], name=op.f("fk_inseminations_withdrawal_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_inseminations")),
    )
    with op.batch_alter_table("inseminations", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_inseminations_withdrawal_id"), ["withdrawal_id"], unique=False
        )

    op.create_table(
        "post_thaw_results",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column(
            "progressive_motility_percent",
            service.kernel.columns.ExactAmount(length=40),
            nullable=False,
        ),
        sa.Column("minutes", service.kernel.columns.ExactAmount(length=40), nullable=True),
        sa.Column("examined_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("recorded_by", sa.Uuid(), nullable=False),
        sa.Column("recorded_by_name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["batch_id"], ["batches.id"], name=op.f("fk_post_thaw_results_batch_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_post_thaw_results")),
    )
    with op.batch_alter_table("post_thaw_results", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_post_thaw_results_batch_id"), ["batch_id"], unique=False
        )

    op.create_table(
        "outcomes",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("insemination_id", sa.Uuid(), nullable=False),
        sa.Column("checked_on", sa.Date(), nullable=False),
        sa.Column("pregnant", sa.Boolean(), nullable=False),
        sa.Column("recorded_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=False),
        sa.Column("by_name", sa.Text(), nullable=False),
        sa.ForeignKeyConstraint(
            ["insemination_id"], ["inseminations.id"], name=op.f("fk_outcomes_insemination_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outcomes")),
    )
    with op.batch_alter_table("outcomes", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_outcomes_insemination_id"), ["insemination_id"], unique=False
        )

    op.create_table(
        "stock",
        sa.Column("goblet_id", sa.Uuid(), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("straws", sa.Integer(), nullable=False),
        sa.CheckConstraint("straws >= 1", name="stock_straws_positive"),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_stock_batch_id")),
        sa.ForeignKeyConstraint(["goblet_id"], ["goblets.id"], name=op.f("fk_stock_goblet_id")),
        sa.PrimaryKeyConstraint("goblet_id", "batch_id", name=op.f("pk_stock")),
    )
    with op.batch_alter_table("stock", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_stock_batch_id"), ["batch_id"], unique=False)

    op.create_table(
        "straws",
        sa.Column("code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("batch_id", sa.Uuid(), nullable=False),
        sa.Column("coded", sa.Boolean(), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("goblet_id", sa.Uuid(), nullable=True),
        sa.Column("left_goblet_id", sa.Uuid(), nullable=True),
        sa.Column("withdrawal_id", sa.Uuid(), nullable=True),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.Column("since", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("last_seq", sa.Integer(), nullable=False),
        sa.CheckConstraint("(state = 'stored') = (goblet_id IS NOT NULL)", name="straw_place"),
        sa.CheckConstraint(
            "state <> 'lifted' OR withdrawal_id IS NOT NULL", name="straw_lifted_for"
        ),
        sa.CheckConstraint(
            "state IN ('prepared', 'void', 'stored', 'lifted', 'used', 'tested', 'discarded', 'dispatched', 'missing')",
            name="straw_state",
        ),
        sa.ForeignKeyConstraint(["batch_id"], ["batches.id"], name=op.f("fk_straws_batch_id")),
        sa.ForeignKeyConstraint(["goblet_id"], ["goblets.id"], name=op.f("fk_straws_goblet_id")),
        sa.ForeignKeyConstraint(["last_seq"], ["entries.seq"], name=op.f("fk_straws_last_seq")),
        sa.ForeignKeyConstraint(
            ["left_goblet_id"], ["goblets.id"], name=op.f("fk_straws_left_goblet_id")
        ),
        sa.PrimaryKeyConstraint("code", name=op.f("pk_straws")),
    )
    with op.batch_alter_table("straws", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_straws_withdrawal_id"), ["withdrawal_id"], unique=False
        )
        batch_op.create_index(
            "straws_of_batch", ["batch_id", "state", "goblet_id", "code"], unique=False
        )

    op.create_table(
        "lines",
        sa.Column("entry_seq", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("straw_code", sqlmodel.sql.sqltypes.AutoString(length=9), nullable=False),
        sa.Column("from_state", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("from_goblet_id", sa.Uuid(), nullable=True),
        sa.Column("to_state", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("to_goblet_id", sa.Uuid(), nullable=True),
        sa.Column("withdrawal_id", sa.Uuid(), nullable=True),
        sa.Column("provisional", sa.Boolean(), nullable=False),
        sa.CheckConstraint(
            "(from_state = 'stored') = (from_goblet_id IS NOT NULL)", name="line_from_place"
        ),
        sa.CheckConstraint(
            "(to_state = 'stored') = (to_goblet_id IS NOT NULL)", name="line_to_place"
        ),
        sa.CheckConstraint(
            "from_state IN ('made', 'prepared', 'void', 'stored', 'lifted', 'used', 'tested', 'discarded', 'dispatched', 'missing')",
            name="line_from_state",
        ),
        sa.CheckConstraint(
            "to_state IN ('prepared', 'void', 'stored', 'lifted', 'used', 'tested', 'discarded', 'dispatched', 'missing')",
            name="line_to_state",
        ),
        sa.ForeignKeyConstraint(["entry_seq"], ["entries.seq"], name=op.f("fk_lines_entry_seq")),
        sa.ForeignKeyConstraint(
            ["from_goblet_id"], ["goblets.id"], name=op.f("fk_lines_from_goblet_id")
        ),
        sa.ForeignKeyConstraint(["straw_code"], ["straws.code"], name=op.f("fk_lines_straw_code")),
        sa.ForeignKeyConstraint(
            ["to_goblet_id"], ["goblets.id"], name=op.f("fk_lines_to_goblet_id")
        ),
        sa.PrimaryKeyConstraint("entry_seq", "number", name=op.f("pk_lines")),
    )
    with op.batch_alter_table("lines", schema=None) as batch_op:
        batch_op.create_index("lines_of_straw", ["straw_code", "entry_seq"], unique=True)
    for table, *unique in APPEND_ONLY:
        for statement in append_only(op.get_bind().dialect.name, table, *unique):
            op.execute(statement)
