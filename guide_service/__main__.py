"""``python -m guide_service``."""

from guide_service.cli import main

main()
