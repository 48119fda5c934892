from tests.console.conftest import desk, quick_passwords  # noqa: F401  (fixtures)
from tests.recalls.conftest import house  # noqa: F401
