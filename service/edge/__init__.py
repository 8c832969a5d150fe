"""What every route shares over HTTP: who is asking, one transaction, errors, headers, lists."""
