"""`python -m barfem` is `barfem`."""

import sys

from barfem.cli.main import main

sys.exit(main())
