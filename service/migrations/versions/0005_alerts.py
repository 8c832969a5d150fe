"""Alerts, their history, channels and messages, how they are told, and who watches."""

import sqlalchemy as sa
import sqlmodel
from alembic import op

import service.kernel.columns
from service.kernel.database import append_only

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "alert_plan",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("digest_at", sqlmodel.sql.sqltypes.AutoString(length=5), nullable=False),
        sa.Column("quiet_from", sqlmodel.sql.sqltypes.AutoString(length=5), nullable=True),
        sa.Column("quiet_until", sqlmodel.sql.sqltypes.AutoString(length=5), nullable=True),
        sa.Column("straws_out_hours", sa.Integer(), nullable=False),
        sa.Column("run_out_days", sa.Integer(), nullable=False),
        sa.Column("outside_watch_url", sa.Text(), nullable=True),
        sa.Column("mail_host", sa.Text(), nullable=True),
        sa.Column("mail_port", sa.Integer(), nullable=False),
        sa.Column("mail_security", sa.Text(), nullable=False),
        sa.Column("mail_username", sa.Text(), nullable=True),
        sa.Column("mail_password", sa.Text(), nullable=True),
        sa.Column("mail_sender", sa.Text(), nullable=True),
        sa.Column("handovers", sa.JSON(), nullable=False),
        sa.Column("stand_ins", sa.JSON(), nullable=False),
        sa.CheckConstraint(
            "mail_security IN ('starttls', 'tls', 'none')", name="alert_plan_mail_security"
        ),
        sa.CheckConstraint("(quiet_from IS NULL) = (quiet_until IS NULL)", name="alert_plan_quiet"),
        sa.CheckConstraint("id = 1", name="alert_plan_is_one"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert_plan")),
    )
    op.create_table(
        "alert_watch",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("holder", sa.Uuid(), nullable=True),
        sa.Column("holder_name", sa.Text(), nullable=True),
        sa.Column("leased_until", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_run_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_run", sa.JSON(), nullable=True),
        sa.Column("gap_from", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("gap_until", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_delivery_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_digest_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_check_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_ping_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("ping_failing_since", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("ping_error", sa.Text(), nullable=True),
        sa.CheckConstraint("id = 1", name="alert_watch_is_one"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert_watch")),
    )
    op.create_table(
        "alerts",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=30), nullable=False),
        sa.Column("subject_kind", sqlmodel.sql.sqltypes.AutoString(length=12), nullable=False),
        sa.Column("subject_key", sqlmodel.sql.sqltypes.AutoString(length=60), nullable=False),
        sa.Column("subject", sa.Text(), nullable=False),
        sa.Column("priority", sa.Text(), nullable=False),
        sa.Column("state", sa.Text(), nullable=False),
        sa.Column("words", sa.Text(), nullable=False),
        sa.Column("facts", sa.JSON(), nullable=False),
        sa.Column("opened_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("is_true", sa.Boolean(), nullable=False),
        sa.Column("seen", sa.Boolean(), nullable=False),
        sa.Column("inspect", sa.Boolean(), nullable=False),
        sa.Column("times", sa.Integer(), nullable=False),
        sa.Column("cleared_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("false_since", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("again_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("acknowledged_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("acknowledged_by_id", sa.Uuid(), nullable=True),
        sa.Column("acknowledged_by", sa.Text(), nullable=True),
        sa.Column("shelved_until", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("shelved_by", sa.Text(), nullable=True),
        sa.Column("shelf_reason", sa.Text(), nullable=True),
        sa.Column("told", sa.Integer(), nullable=False),
        sa.Column("tell_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("closed_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("priority IN ('critical', 'medium', 'low')", name="alert_priority"),
        sa.CheckConstraint(
            "state IN ('open', 'acknowledged', 'cleared-unseen', 'shelved', 'closed')",
            name="alert_state",
        ),
        sa.CheckConstraint("told >= 0", name="alert_told"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alerts")),
    )
    with op.batch_alter_table("alerts", schema=None) as batch_op:
        batch_op.create_index("alerts_by_time", ["opened_at", "id"], unique=False)
        batch_op.create_index(
            "alerts_one_a_condition",
            ["kind", "subject_key"],
            unique=True,
            sqlite_where=sa.text("state <> 'closed'"),
            postgresql_where=sa.text("state <> 'closed'"),
        )

    op.create_table(
        "alert_channels",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("name", sa.Text(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("target", sa.Text(), nullable=False),
        sa.Column("person_id", sa.Uuid(), nullable=True),
        sa.Column("priorities", sa.JSON(), nullable=False),
        sa.Column("digest", sa.Boolean(), nullable=False),
        sa.Column("enabled", sa.Boolean(), nullable=False),
        sa.Column("secret", sa.Text(), nullable=True),
        sa.Column("secret_before", sa.Text(), nullable=True),
        sa.Column(
            "secret_before_until", service.kernel.columns.UtcMoment(length=27), nullable=True
        ),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("failures", sa.Integer(), nullable=False),
        sa.Column("failing_since", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("next_try_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_error", sa.Text(), nullable=True),
        sa.Column("last_tried_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("last_sent_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.CheckConstraint("kind IN ('email', 'webhook', 'push')", name="channel_kind"),
        sa.CheckConstraint("failures >= 0", name="channel_failures"),
        sa.ForeignKeyConstraint(
            ["person_id"], ["users.id"], name=op.f("fk_alert_channels_person_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert_channels")),
        sa.UniqueConstraint("name", name=op.f("uq_alert_channels_name")),
    )
    with op.batch_alter_table("alert_channels", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_alert_channels_person_id"), ["person_id"], unique=False
        )

    op.create_table(
        "alert_events",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("alert_id", sa.Uuid(), nullable=False),
        sa.Column("at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("what", sqlmodel.sql.sqltypes.AutoString(length=20), nullable=False),
        sa.Column("by_id", sa.Uuid(), nullable=True),
        sa.Column("by_name", sa.Text(), nullable=True),
        sa.Column("note", sa.Text(), nullable=True),
        sa.ForeignKeyConstraint(["alert_id"], ["alerts.id"], name=op.f("fk_alert_events_alert_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert_events")),
    )
    with op.batch_alter_table("alert_events", schema=None) as batch_op:
        batch_op.create_index("alert_events_of_alert", ["alert_id", "at"], unique=False)

    op.create_table(
        "alert_messages",
        sa.Column("id", sa.Uuid(), nullable=False),
        sa.Column("channel_id", sa.Uuid(), nullable=False),
        sa.Column("kind", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("mark", sqlmodel.sql.sqltypes.AutoString(length=120), nullable=True),
        sa.Column("priority", sa.Text(), nullable=False),
        sa.Column("state", sqlmodel.sql.sqltypes.AutoString(length=10), nullable=False),
        sa.Column("created_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("send_at", service.kernel.columns.UtcMoment(length=27), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("claimed_until", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("sent_at", service.kernel.columns.UtcMoment(length=27), nullable=True),
        sa.Column("error", sa.Text(), nullable=True),
        sa.Column("subject", sa.Text(), nullable=True),
        sa.Column("text", sa.Text(), nullable=True),
        sa.Column("data", sa.JSON(), nullable=True),
        sa.CheckConstraint(
            "state IN ('waiting', 'sending', 'sent', 'refused', 'given-up', 'not-needed')",
            name="message_state",
        ),
        sa.ForeignKeyConstraint(
            ["channel_id"], ["alert_channels.id"], name=op.f("fk_alert_messages_channel_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_alert_messages")),
        sa.UniqueConstraint("mark", name=op.f("uq_alert_messages_mark")),
    )
    with op.batch_alter_table("alert_messages", schema=None) as batch_op:
        batch_op.create_index("messages_of_channel", ["channel_id", "created_at"], unique=False)
        batch_op.create_index("messages_waiting", ["state", "send_at"], unique=False)

    op.create_table(
        "alert_message_items",
        sa.Column("message_id", sa.Uuid(), nullable=False),
        sa.Column("alert_id", sa.Uuid(), nullable=False),
        sa.Column("notice", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["alert_id"], ["alerts.id"], name=op.f("fk_alert_message_items_alert_id")
        ),
        sa.ForeignKeyConstraint(
            ["message_id"], ["alert_messages.id"], name=op.f("fk_alert_message_items_message_id")
        ),
        sa.PrimaryKeyConstraint("message_id", "alert_id", name=op.f("pk_alert_message_items")),
    )
    with op.batch_alter_table("alert_message_items", schema=None) as batch_op:
        batch_op.create_index("message_items_of_alert", ["alert_id"], unique=False)

    with op.batch_alter_table("answers", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_answers_answered_at"), ["answered_at"], unique=False)

    with op.batch_alter_table("record_changes", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_record_changes_changed_at"), ["changed_at"], unique=False
        )

    for statement in append_only(op.get_bind().dialect.name, "alert_events", ("id",)):
        op.execute(statement)
