"""What a user does: describe a case, solve it, sweep it, compare it with a table, look at it."""
