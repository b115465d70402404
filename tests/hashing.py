"""The hasher of the tests: argon2 as in a plant, at a price that thousands of tests can pay."""

from django.contrib.auth.hashers import Argon2PasswordHasher


class QuickArgon2(Argon2PasswordHasher):
    """argon2id with the least work that the library takes."""

    time_cost = 1
    memory_cost = 8
    parallelism = 1
