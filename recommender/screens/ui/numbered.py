"""What a component of a page sends: entries that it numbers, and sends again until the page says which it has seen.

Several entries in a row may share one run of the page, and a run may be broken off: none is lost, none is taken twice.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any, TypeVar

import streamlit as st

from recommender.screens.session import visitor

_One = TypeVar("_One")
# For the scripts of components: entries wait in ``box.waiting`` until the page has seen them. The first is sent at
# once, others together after a short pause, so that fast typing does not break off one run after another, and again,
# ever more seldom, while no run is at work on them; ``turn`` makes what is sent again differ from what was sent before.
OUTBOX = """
function outbox(box, seen, send) {
  if (box.count === undefined) { Object.assign(box, { count: seen, waiting: [], turn: 0, timer: null }); }
  box.waiting = box.waiting.filter((one) => one.number > seen);
  box.send = send;
  const post = () => { box.turn += 1; box.send(box.waiting, box.turn); };
  // a run that goes on may have them in hand: to send again would break it off, and a long one would never end
  const running = () => document.querySelector('[data-testid="stApp"]')?.dataset.testScriptState === 'running';
  const later = (pause, again) => {
    clearTimeout(box.timer);
    box.timer = setTimeout(() => {
      box.timer = null;
      if (box.waiting.length === 0 || !box.isConnected) { return; }
      if (!again || !running()) { post(); }
      later(again ? Math.min(2 * pause, 8000) : 900, true);
    }, pause);
  };
  box.put = (one) => {
    box.count += 1;
    box.waiting.push({ number: box.count, ...one });
    if (box.waiting.length > 1) { later(40, false); return; }
    post();
    later(900, true);
  };
  if (box.waiting.length > 0 && box.timer === null) { later(900, true); }
}
"""


def after(value: Any, name: str, seen: int, read: Callable[[Any], _One | None]) -> list[tuple[int, _One]]:
    """The entries under ``name`` in what the component sent that were not seen yet, by their number, in order.

    ``read`` makes one of what was sent; what it answers with ``None``, or cannot read, is passed over.
    """
    found: dict[int, _One] = {}
    sent = value.get(name) if isinstance(value, Mapping) else None
    for one in sent if isinstance(sent, Sequence) else ():
        try:
            number, made = int(one["number"]), read(one)
        except (TypeError, KeyError, ValueError):
            continue
        if made is not None:
            found[number] = made
    return [(number, found[number]) for number in sorted(found) if number > seen]


def seen(key: str) -> int:
    """The number of the last entry of this component that was taken."""
    return int(visitor.store().get(f"{key}.seen", 0))


def take(
    key: str,
    trigger: str,
    unseen: Callable[[Any, int], Iterable[tuple[Any, ...]]],
    each: Callable[..., object],
) -> Callable[[], None]:
    """The callback of a component: ``each`` is called with what follows the number in every entry that is unseen."""

    def handle() -> None:
        kept = visitor.store()
        sent = st.session_state[key].get(trigger)
        with visitor.alone():
            for number, *entry in unseen(sent, seen(key)):
                # counted in one go with the change of the case (``state``), or here, once it is done: should the run be
                # broken off before, it comes again; broken off after, it does not
                kept[visitor.ENTRY] = f"{key}.seen", number
                try:
                    each(*entry)
                    kept[f"{key}.seen"] = number
                finally:
                    kept.pop(visitor.ENTRY, None)

    return handle
