"""What the recogniser of identifying texts finds and where it errs, by language: ``python -m benchmarks.privacy``.

Prints for each part of the collected notes (``tests/privacy/corpus``) how many that identify somebody are found and how
many honest ones alarm, the ones judged wrongly, and the mean processor time of a text seen for the first time.
"""

import time

from recommender.privacy.recogniser import look
from tests.privacy.corpora import LANGUAGES, SETS, notes, wrong


def main() -> None:
    """Prints the tables."""
    look("a first text, so that the lists are read")
    for part in SETS:
        number, bad, shown = wrong(part)
        print(f"\n{part}\n{'':6}{'found':>16}{'false alarms':>18}")
        for language in (*LANGUAGES, "all"):
            cells = []
            for identifies in (True, False):
                keys = [key for key in number if key[1] is identifies and language in (key[0], "all")]
                total, failed = sum(number[key] for key in keys), sum(bad[key] for key in keys)
                count = total - failed if identifies else failed
                cells.append(f"{count:>5} of {total:<4}{100 * count / max(total, 1):5.1f} %")
            print(f"{language:6}{cells[0]:>16}{cells[1]:>18}")
        print("\n".join(shown))
    texts = [text for part in SETS for _, _, text in notes(part)]
    look.cache_clear()
    start = time.process_time()
    for text in texts:
        look(text)
    print(f"\n{1000 * (time.process_time() - start) / len(texts):.2f} ms a text, {len(texts)} texts, none seen before")


if __name__ == "__main__":
    main()
