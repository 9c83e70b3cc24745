"""The settings of a test run: the program's own, with a data folder for each run."""

import atexit
import os
import shutil
import tempfile

from tests.run import apart, shared_folder

if "STUDIO_VAR_DIR" not in os.environ:
    os.environ["STUDIO_VAR_DIR"] = tempfile.mkdtemp(prefix="slowcool-test-")
    atexit.register(shutil.rmtree, os.environ["STUDIO_VAR_DIR"], ignore_errors=True)
apart(os.environ)

from studio.settings import *  # noqa: E402, F403

# Signing in by the hundred need not be slow; the real hashers have a test of their own.
PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]
# Whether the worker computes a design must not hang on how busy the machine is.
DESIGN_BUDGET_SECONDS = 600.0
# The test database of each process is copied from one that bears this name.
DATABASE_NAME = DATABASES["default"]["NAME"]  # noqa: F405
# A design is computed once in a run, by whichever process needs it first.
if not REDIS_URL:  # noqa: F405
    CACHES["computed"]["LOCATION"] = shared_folder() / "computed"  # noqa: F405
