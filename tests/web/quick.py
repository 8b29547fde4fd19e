"""Argon2 at its cheapest, for tests alone."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class QuickArgon2(Argon2PasswordHasher):
    """As the bench's own, with one round over 64 KiB."""

    time_cost, memory_cost, parallelism = 1, 64, 1
