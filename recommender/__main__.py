"""``python -m recommender`` is ``rpd-casebook``."""

from recommender.cli.main import main

if __name__ == "__main__":
    main()
