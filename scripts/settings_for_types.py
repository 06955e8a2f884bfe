"""The settings as the type checker reads them: with values of no consequence, whatever the shell holds."""

import tempfile
from pathlib import Path

from tests import environment

_home = Path(tempfile.gettempdir()) / "casebook-types"
environment.prepare(var_dir=_home, database_url=environment.sqlite_url(_home), demo=True)

from clinic.config.settings import *  # noqa: E402, F403  (only now that the environment is set)
