"""What everything else stands on: clock, ids, codes, errors, columns, database. No HTTP."""
