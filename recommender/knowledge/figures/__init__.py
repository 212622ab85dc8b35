"""The figures of ``shared/`` as typed models, one for each file, held inside ``Knowledge``."""
