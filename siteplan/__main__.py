"""`python -m siteplan` is the same door as `siteplan`."""

import sys

from siteplan.cli.main import main

if __name__ == "__main__":
    sys.exit(main())
