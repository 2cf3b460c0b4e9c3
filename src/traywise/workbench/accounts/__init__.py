"""Staff: accounts, roles, sign-in with lock-out, screens that rest and wake by PIN."""
