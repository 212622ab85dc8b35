"""A benchmark result as a stored file, a table for the README, and a plot of time against size."""

import json
from pathlib import Path
from typing import Any


def write(result: dict[str, Any], folder: Path) -> None:
    """``<time>.json`` (history), ``retrieval.md`` and, where matplotlib is installed, ``retrieval.svg``."""
    folder.mkdir(parents=True, exist_ok=True)
    name = result["at"].replace(":", "").replace("+0000", "Z")
    (folder / f"{name}.json").write_text(json.dumps(result, indent=1) + "\n", encoding="utf-8")
    text = table(result)
    (folder / "retrieval.md").write_text(text, encoding="utf-8")
    print(text)
    if plot(result, folder / "retrieval.svg"):
        print(f"plot in {folder / 'retrieval.svg'}")


def _ms(value: float) -> str:
    return f"{value:,.0f}" if value >= 100 else f"{value:.1f}" if value >= 10 else f"{value:.2f}"


def table(result: dict[str, Any]) -> str:
    """Markdown: median (p95) milliseconds a query, by tool and size; then the harder cases."""
    runs = result["runs"]
    usual = [run for run in runs if run["world"] == "clustered" and run["weights"] == "default"]
    sizes = sorted({run["size"] for run in usual})
    tools = list(dict.fromkeys(run["tool"] for run in usual))
    lines = [
        f"Ten nearest of {result['features']} mixed features, one query at a time, median (95th percentile) in ms.",
        f"Machine: {result['machine']}. "
        + ", ".join(f"{k} {v}" for k, v in result["versions"].items())
        + ".",
        f"Run at {result['at']}. Generated libraries, evidence of nothing.",
        "",
        "| tool | " + " | ".join(f"{size:,}" for size in sizes) + " | same answer |",
        "| --- |" + " ---: |" * len(sizes) + " --- |",
    ]
    for tool in tools:
        cells = []
        mine = {run["size"]: run for run in usual if run["tool"] == tool}
        for size in sizes:
            run = mine.get(size)
            cells.append(f"{_ms(run['times']['median'])} ({_ms(run['times']['p95'])})" if run else "-")
        last = mine[max(mine)]
        same = "yes" if last["exact"] else f"no: {last['share']:.0%} of the ten"
        lines.append(f"| {tool} | " + " | ".join(cells) + f" | {same} |")
    lines += [
        "",
        "The code trie where pruning is hard:",
        "",
        "| library | weights | median | p95 | p99 | processor time: median | p95 | p99 |",
    ]
    lines.append("| --- | --- |" + " ---: |" * 6)
    for run in runs:
        if run["tool"] == "code trie" and run["size"] == max(sizes):
            t = run["times"]
            row = f"| {run['size']:,}, {run['world']} | {run['weights']} |"
            kinds = ("median", "p95", "p99", "cpu_median", "cpu_p95", "cpu_p99")
            lines.append(f"{row} " + " | ".join(_ms(t[kind]) for kind in kinds) + " |")
    lines += ["", "| situations | build, s | index, MB | save, s | open and check, s | open, s |"]
    lines.append("| ---: | ---: | ---: | ---: | ---: | ---: |")
    for size in sizes:
        trie = next(run for run in usual if run["tool"] == "code trie" and run["size"] == size)
        call = next((run for run in usual if "open_s" in run and run["size"] == size), None)
        if call:
            kept = f"{call['save_s']:.2f} | {call['open_s']:.3f} | {call['open_unchecked_s']:.3f}"
            lines.append(f"| {size:,} | {trie['build_s']:.2f} | {trie['bytes'] / 1e6:.1f} | {kept} |")
    return "\n".join(lines) + "\n"


def plot(result: dict[str, Any], path: Path) -> bool:
    """Median time against size, both logarithmic; ``False`` where matplotlib is not installed."""
    try:
        import matplotlib

        matplotlib.use("svg")
        from matplotlib import pyplot
    except ImportError:
        return False
    usual = [run for run in result["runs"] if run["world"] == "clustered" and run["weights"] == "default"]
    figure, axes = pyplot.subplots(figsize=(8, 5))
    for tool in dict.fromkeys(run["tool"] for run in usual):
        mine = sorted((run["size"], run["times"]["median"]) for run in usual if run["tool"] == tool)
        style = "-o" if tool.startswith(("code", "flat")) else "--s"
        axes.loglog(*zip(*mine, strict=True), style, markersize=4, label=tool)
    axes.set_xlabel("situations in the library")
    axes.set_ylabel("median ms a query")
    axes.set_title("Ten nearest precedents (generated libraries)")
    axes.grid(True, which="major", alpha=0.3)
    axes.legend(fontsize=8)
    figure.tight_layout()
    figure.savefig(path, metadata={"Date": None})
    pyplot.close(figure)
    return True
