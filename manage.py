"""The one command of Coldbus; what it does before Django is in workshop/bootstrap.py."""

import sys

from workshop import bootstrap

if __name__ == "__main__":
    sys.exit(bootstrap.main(sys.argv))
