"""People: users and their roles, sign-in, sessions, tokens, and the record of all of it."""
