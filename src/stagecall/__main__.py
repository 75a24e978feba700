"""``python -m stagecall``."""

import sys

from stagecall.cli import main

sys.exit(main())
