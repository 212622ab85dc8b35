"""Plain values held against a model, with every problem placed and put into words: one mapper for all files.

What is allowed is read off the model's shape, so that messages never drift from it. ``issues_of`` turns a
validation error into issues at paths; ``read_model`` does the whole for a data file of the project or a draft of one.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Any, TypeVar

from pydantic import ValidationError

from recommender.domain.errors import MOST_PROBLEMS, Problem, did_you_mean, shown
from recommender.domain.measures import Interval, Record
from recommender.domain.parsing import Path, child, field_name
from recommender.domain.shape import Shape, record_shape, shape_at

M = TypeVar("M", bound=Record)
At = Callable[[tuple[str | int, ...]], str]
Hint = Callable[[Shape | None, list[Any], Any], str]
_ABSENT = object()


@dataclass(frozen=True, slots=True)
class Issue:
    """A problem at a path of a document; ``key`` when the key itself is meant.

    ``found`` is ``None`` where the value at the path is what was found.
    """

    path: tuple[Any, ...]
    allowed: str
    hint: str = ""
    found: str | None = None
    key: bool = False


def no_hint(shape: Shape | None, path: list[Any], value: Any) -> str:
    """A close word of a closed list, where there is one."""
    if shape is None:
        return ""
    words = shape.words or tuple(word for choice in shape.choices for word in choice.words)
    return did_you_mean(value, words) if words else ""


def issues_of(
    data: Any, error: ValidationError, root: Shape, hint: Hint = no_hint, more_keys: tuple[str, ...] = ()
) -> list[Issue]:
    """The issues of a validation error, the most telling one for each place; ``more_keys`` may stand at the top too."""
    found: dict[Path, Issue] = {}
    outdone: set[Path] = set()
    for entry in error.errors(include_url=False, include_input=False):
        issue = _issue(data, entry, root, hint, more_keys)
        if entry["type"] == "value_error":
            found[issue.path] = issue  # a part's own complaint says more than "not a number"
        found.setdefault(issue.path, issue)
        # A union reports every alternative; what is wrong inside a mapping says more than "not a number".
        outdone.update(issue.path[:length] for length in range(1, len(issue.path)))
        if len(found) > 2 * MOST_PROBLEMS:
            break
    return [issue for path, issue in found.items() if path not in outdone]


def _issue(data: Any, entry: Any, root: Shape, hint: Hint, more_keys: tuple[str, ...]) -> Issue:
    kind, loc = entry["type"], entry["loc"]
    node: Any = data
    path: list[Any] = []
    if kind == "missing":
        loc, required = loc[:-1], str(loc[-1])
    for step in loc:
        inner = child(node, step, _ABSENT)
        if inner is not _ABSENT:
            path.append(step)
            node = inner
    if kind == "missing":
        shape = shape_at((*path, required), data, root)
        allowed = shape.describe() if shape else "a value"
        return Issue((*path, required), allowed, hint(shape, [*path, required], None), "nothing")
    if kind == "extra_forbidden":
        return _unknown_key(data, path, root, more_keys)
    if kind == "value_error":
        return _complaint(path, node, str(entry["ctx"]["error"]))
    shape = shape_at(path, data, root)
    allowed = shape.describe() if shape else "something else"
    return Issue(tuple(path), allowed, hint(shape, path, node))


def _complaint(path: list[Any], node: Any, said: str) -> Issue:
    """What a part says of itself: its message tells what is allowed."""
    if isinstance(node, dict) and node.keys() == set(Interval.model_fields):
        bounds = ", ".join(f"{name} {shown(node[name])}" for name in Interval.model_fields)
        return Issue(tuple(path), said, found=bounds)
    return Issue(tuple(path), said)


def _unknown_key(data: Any, path: list[Any], root: Shape, more_keys: tuple[str, ...]) -> Issue:
    shape = shape_at(path[:-1], data, root)
    if shape is not None and shape.kind == "choice":
        shape = shape.for_value(_at(data, path[:-1]))
    known = tuple(shape.fields) if shape is not None else ()
    if len(path) == 1:
        known = (*known, *more_keys)
    hint = did_you_mean(path[-1], known)
    return Issue(tuple(path), ", ".join(known), hint, f"the unknown key {shown(path[-1])}", key=True)


def _at(data: Any, path: list[Any]) -> Any:
    for step in path:
        data = child(data, step)
    return data


def read_model(model: type[M], value: Any, at: At, problems: list[Problem], within: Path = ()) -> M | None:
    """The model of plain values, or ``None``; everything wrong is added to ``problems``.

    ``at`` tells where a path of the document stands, ``within`` where in the document the values begin.
    """
    if not isinstance(value, dict):
        problems.append(Problem(at(within), "", shown(value), record_shape(model).describe()))  # type: ignore[arg-type]
        return None
    try:
        return model.model_validate(value, strict=True)
    except ValidationError as error:
        issues = issues_of(value, error, record_shape(model))
    problems.extend(as_problems(issues, value, at, within))
    return None


def as_problems(issues: list[Issue], value: Any, at: At, within: Path = ()) -> Iterator[Problem]:
    """Issues as problems: placed in the file, and quoted as they stand there."""
    for issue in issues:
        found = issue.found
        if found is None:
            found = shown(issue.path[-1] if issue.key and issue.path else _at(value, list(issue.path)))
        place = at((*within, *issue.path))  # type: ignore[arg-type]
        yield Problem(place, field_name(issue.path, value), found, issue.allowed, issue.hint)
