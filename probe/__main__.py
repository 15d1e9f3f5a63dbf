"""`python -m probe`: the same as the `cardassay` command."""

import sys

from probe.cli import main

sys.exit(main())
