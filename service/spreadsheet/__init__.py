"""The station's spreadsheet, in and out: old stock read from CSV, stock and book written to CSV."""
