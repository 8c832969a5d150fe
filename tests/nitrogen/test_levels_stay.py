"""What was entered at a tank is added to and never changed, past the service neither."""

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from tests.nitrogen.conftest import AtTank


@pytest.mark.parametrize("table", ["levels", "top_ups", "nitrogen_strikes"])
@pytest.mark.parametrize(
    "statement", ["UPDATE {table} SET by_name = 'Another'", "DELETE FROM {table}"]
)
def test_history_refuses_to_be_changed(at_tank: AtTank, table: str, statement: str) -> None:
    at_tank.strike("levels", at_tank.level(2, level_cm=30)["id"])
    at_tank.top_up(1, litres_added=3)
    database = at_tank.client.app.state.wiring.database  # type: ignore[attr-defined]
    with pytest.raises(DBAPIError, match="append-only"), database.writing() as db:
        db.execute(text(statement.format(table=table)))
    with database.reading() as db:
        rows = db.execute(text(f"SELECT by_name FROM {table}")).all()
    assert rows == [("The technician",)]
