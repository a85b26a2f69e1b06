"""Fits of sums whose numbers run with the lead time, pulled towards where they start from."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Booleans = NDArray[np.bool_]
    #: Which numbers, which cases, and their matrix.
    Part = tuple[NDArray[np.int_], NDArray[np.int_], Floats]

_ROUNDS: Final = 60
_FURTHEST: Final = 2.0  # that one step moves a log
_SMALL: Final = 1e-4  # added to a squared error, so that its log exists
_STEEPEST: Final = 15.0  # log odds beyond which nothing is told apart


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Design:
    """Predictors, the lead of each case, and the lead times at which numbers stand.

    Attributes
    ----------
    columns : sequence of numpy.ndarray, shape (forecasts, hours)
        One for each term [unit of the predictor].
    lead : numpy.ndarray, shape (forecasts, hours)
        How far ahead [day].
    leads : tuple of float
        Where the numbers of a term stand, straight between, level beyond [day].
    rows : numpy.ndarray of bool, shape (forecasts, hours)
        The cases to fit on; those with a predictor that is NaN are left out besides.
    """

    columns: Sequence[Floats]
    lead: Floats
    leads: tuple[float, ...]
    rows: Booleans

    @property
    def shape(self) -> tuple[int, int]:
        """How many terms, and numbers of each."""
        return len(self.columns), len(self.leads)

    def parts(self, rows: Booleans) -> Iterator[Part]:
        """Give the cases between two lead times: which numbers, which cases, their matrix.

        A case between two lead times touches the numbers of these two only, so the
        matrix of each part is narrow.
        """
        terms, many = self.shape
        flat = [np.broadcast_to(column, rows.shape).ravel() for column in self.columns]
        lead = self.lead.ravel()
        place = np.clip(np.searchsorted(self.leads, lead, side="right") - 1, 0, many - 2)
        wanted = rows.ravel() & np.isfinite(lead)
        for low in range(many - 1):
            cases = np.flatnonzero(wanted & (place == low))
            if not len(cases):
                continue
            matrix = np.stack([column[cases] for column in flat], axis=1)
            begin, end = self.leads[low], self.leads[low + 1]
            share = np.clip((lead[cases] - begin) / (end - begin), 0.0, 1.0)[:, None]
            both = np.concatenate([matrix * (1.0 - share), matrix * share], axis=1)
            numbers = np.arange(terms) * many + low
            yield np.concatenate([numbers, numbers + 1]), cases, both

    def known(self) -> Booleans:
        """Say which cases have every predictor."""
        known = self.rows.copy()
        for column in self.columns:
            known &= np.isfinite(column)
        return known

    def total(self, numbers: Floats) -> Floats:
        """Add the terms up for every case, chosen or not.

        Parameters
        ----------
        numbers : numpy.ndarray, shape (terms, leads)
            Of each term [unit of the quantity over that of the predictor].

        Returns
        -------
        numpy.ndarray, shape (forecasts, hours)
            NaN where a predictor is [unit of the quantity].
        """
        found = np.full(self.lead.size, np.nan)
        for at, cases, matrix in self.parts(np.ones(self.lead.shape, dtype=bool)):
            found[cases] = matrix @ numbers.ravel()[at]
        return found.reshape(self.lead.shape)


def straight(design: Design, truth: Floats, *, pull: float, start: Floats) -> Floats:
    """Fit by least squares.

    Parameters
    ----------
    design : Design
        Predictors and cases.
    truth : numpy.ndarray, shape (forecasts, hours)
        What the terms are to add up to [its unit].
    pull : float
        Cases by which ``start`` counts [-].
    start : numpy.ndarray, shape (terms, leads)
        The numbers that are returned where there are no cases [as returned].

    Returns
    -------
    numpy.ndarray, shape (terms, leads)
        The numbers [unit of the quantity over that of the predictor].
    """
    squares, towards = np.zeros((start.size, start.size)), np.zeros(start.size)
    for at, cases, matrix in design.parts(design.known()):
        squares[np.ix_(at, at)] += matrix.T @ matrix
        towards[at] += matrix.T @ (truth.ravel()[cases] - matrix @ start.ravel()[at])
    squares += np.diag(_pull(design, squares, pull))
    return start + np.linalg.solve(squares, towards).reshape(start.shape)


def log_spread(design: Design, left: Floats, *, pull: float, start: Floats) -> Floats:
    """Fit the log of the variance of what is left over.

    Parameters
    ----------
    design : Design
        Predictors and cases.
    left : numpy.ndarray, shape (forecasts, hours)
        Truth less what was to be expected [its unit].
    pull : float
        Cases by which ``start`` counts [-].
    start : numpy.ndarray, shape (terms, leads)
        Where one starts from [as returned].

    Returns
    -------
    numpy.ndarray, shape (terms, leads)
        Numbers whose sum is the log of the variance [-].

    Notes
    -----
    The likelihood of a normal error of that variance, by scoring: the expected
    information is half the sum of squares whatever the numbers are.
    """
    rows = design.known() & np.isfinite(left)
    squared = left**2 + _SMALL
    numbers = start.astype(float).copy()
    if not start.any():
        numbers[0] = np.log(squared[rows].mean())  # the first term is the constant one
    home = numbers.copy()
    parts = list(design.parts(rows))
    squares = _sums(parts, numbers.size)
    scale = _pull(design, squares, pull)
    squares += np.diag(scale)
    for _ in range(_ROUNDS):
        slope = -scale * (numbers - home).ravel()
        for at, cases, matrix in parts:
            spread = matrix @ numbers.ravel()[at]
            slope[at] += matrix.T @ (squared.ravel()[cases] * np.exp(-spread) - 1.0)
        step = _shortened(parts, np.asarray(np.linalg.solve(squares, slope)))
        numbers = numbers + step.reshape(numbers.shape)
        if np.abs(step).max() < _SMALL:
            break
    return numbers


def logistic(design: Design, truth: Floats, *, pull: float, start: Floats) -> Floats:
    """Fit log odds.

    Parameters
    ----------
    design : Design
        Predictors and cases.
    truth : numpy.ndarray, shape (forecasts, hours)
        1 where it came, 0 where it did not [-].
    pull : float
        Cases by which ``start`` counts, each worth a quarter as at even odds [-].
    start : numpy.ndarray, shape (terms, leads)
        Where one starts from [as returned].

    Returns
    -------
    numpy.ndarray, shape (terms, leads)
        Numbers whose sum is the log odds [-].
    """
    rows = design.known()
    numbers = start.astype(float).copy()
    parts = list(design.parts(rows))
    held = 0.25 * _pull(design, _sums(parts, numbers.size), pull)
    for _ in range(_ROUNDS):
        squares, slope = np.diag(held), -held * (numbers - start).ravel()
        for at, cases, matrix in parts:
            odds = np.clip(matrix @ numbers.ravel()[at], -_STEEPEST, _STEEPEST)
            chance = 1.0 / (1.0 + np.exp(-odds))
            squares[np.ix_(at, at)] += (matrix * (chance * (1.0 - chance))[:, None]).T @ matrix
            slope[at] += matrix.T @ (truth.ravel()[cases] - chance)
        step = _shortened(parts, np.asarray(np.linalg.solve(squares, slope)))
        numbers = numbers + step.reshape(numbers.shape)
        if np.abs(step).max() < _SMALL:
            break
    return numbers


def _sums(parts: Sequence[Part], size: int) -> Floats:
    """Add up squares and products of the matrix, shape (numbers, numbers)."""
    squares = np.zeros((size, size))
    for at, _, matrix in parts:
        squares[np.ix_(at, at)] += matrix.T @ matrix
    return squares


def _shortened(parts: Sequence[Part], step: Floats) -> Floats:
    """Shorten a step that moves some sum further than its curve can be trusted."""
    moves = max(
        (float(np.abs(matrix @ step[at]).max()) for at, _, matrix in parts), default=0.0
    )
    return step * min(1.0, _FURTHEST / moves) if moves > 0.0 else step


def _pull(design: Design, squares: Floats, pull: float) -> Floats:
    """Give the pull on each number: so many cases, each of the term's own mean square."""
    size = np.diag(squares).reshape(design.shape)
    cases = size[0]  # the first term is the constant one
    mean = np.where(cases > 0.0, size / np.where(cases > 0.0, cases, 1.0), 1.0)
    return np.maximum(pull * mean, _SMALL).ravel()
