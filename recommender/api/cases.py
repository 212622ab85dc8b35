"""Cases in: from files, from folders, from plain values. All are checked alike."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

from recommender.domain.case import Case
from recommender.domain.errors import CaseError
from recommender.domain.reader import read_case, read_folder, read_value

__all__ = ["build_case", "read_case", "read_cases"]


def read_cases(folder: str | Path) -> list[Case]:
    """Every case of a folder and the folders in it, sorted by file name.

    Parameters
    ----------
    folder
        A folder of YAML or JSON case files.

    Returns
    -------
    list of Case

    Raises
    ------
    CaseError
        With every problem of every file that cannot be used.
    """
    found = list(read_folder(folder))
    problems = [problem for case in found if isinstance(case, CaseError) for problem in case.problems]
    if problems:
        raise CaseError(problems, str(folder))
    return [case for case in found if isinstance(case, Case)]


def build_case(values: Mapping[str, Any], name: str = "case") -> Case:
    """A case from plain values, checked as strictly as one that is read from a file.

    Parameters
    ----------
    values
        The fields of the case format, as they would stand in a case file: ISO 3950 teeth (or ``numbering:
        universal``), lengths in millimetres, ages in years.
    name
        What stands for the file in messages.

    Returns
    -------
    Case

    Raises
    ------
    CaseError
        With every problem at once: field, what was found, what is allowed.

    Examples
    --------
    >>> build_case({"format": 1, "id": "example-1", "arch": "maxilla", "missing": [15]}).missing
    [15]
    >>> build_case({"format": 1, "id": "example-1", "arch": "maxilla", "missing": [45]})  # doctest: +ELLIPSIS
    Traceback (most recent call last):
        ...
    recommender.domain.errors.CaseError: case: missing[#1]: found 45, a tooth of the mandible; allowed a tooth of ...
    """
    return read_value(values, name)
