"""The one regression: weighted least squares by statsmodels, columns scaled first."""

import warnings
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from statsmodels.regression.linear_model import OLS
from statsmodels.tools.sm_exceptions import SingularMatrixWarning

from .arrays import Array


@dataclass(frozen=True)
class Regression:
    """A solved fit. estimate (p,), covariance (p, p), residuals (n,), all in the units they came in."""

    estimate: Array
    covariance: Array
    residuals: Array

    @cached_property
    def sd(self) -> Array:
        """Standard errors (p,)."""
        return np.sqrt(np.diag(self.covariance))

    @property
    def chi_squared(self) -> float:
        """Sum of squared residuals."""
        return float(self.residuals @ self.residuals)


def regress(columns: Array, response: Array, known_variance: bool = False) -> Regression:
    """Least squares of `response` on `columns`.

    columns: (n, p); response: (n,). known_variance: the rows were divided by their standard deviations already,
    so that the scale is one (prior rows among them make this mixed estimation, Theil and Goldberger 1961);
    otherwise the scale comes from the residuals. Each column is divided by its largest value first: without that
    the default solver keeps six digits of NIST's load-cell set, with it twelve.
    Raises ValueError where a value is not finite or the columns do not determine the answer.
    """
    count, unknowns = columns.shape
    scale = np.abs(columns).max(axis=0)
    if not (np.isfinite(columns).all() and np.isfinite(response).all()):
        raise ValueError("every value in a regression has to be finite")
    if not scale.all():
        raise ValueError("a column of a regression is all zero")
    # Turned into a triangle, the rows say the same in as many rows as there are unknowns, and one for what is left.
    rows = np.asarray(np.linalg.qr(np.column_stack([columns / scale, response]), mode="r"))
    # Told that there is no constant, the model does not spend two more decompositions on looking for one.
    model = OLS(rows[:, -1], rows[:, :-1], hasconst=False)
    with warnings.catch_warnings():  # the rank is judged below
        warnings.simplefilter("ignore", SingularMatrixWarning)
        result = model.fit(cov_type="fixed scale")
    if model.rank < unknowns:
        raise ValueError("the readings do not determine every unknown of the regression")
    estimate = result.params / scale
    residuals = response - columns @ estimate
    # As many rows as unknowns leave nothing to judge the spread by.
    spread = float(result.ssr) / (count - unknowns) if count > unknowns else np.nan
    variance = 1.0 if known_variance else spread
    return Regression(estimate, result.normalized_cov_params / scale / scale[:, None] * variance, residuals)
