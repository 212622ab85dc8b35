"""The collector of garbage waits inside a block, and circles are thrown away all the same."""

import gc
import weakref

from recommender.collector import EVERY, waits


class _Circle:
    def __init__(self) -> None:
        self.itself = self


def test_circles_made_inside_are_thrown_away_after_some_blocks() -> None:
    assert gc.isenabled()
    made = []
    for _ in range(EVERY):
        with waits():
            assert not gc.isenabled()
            made.append(weakref.ref(_Circle()))
            with waits():
                pass
            assert not gc.isenabled()
        assert gc.isenabled()
    with waits():
        pass
    assert sum(one() is not None for one in made) < EVERY


def test_a_collector_that_was_off_stays_off() -> None:
    gc.disable()
    try:
        with waits():
            pass
        assert not gc.isenabled()
    finally:
        gc.enable()
