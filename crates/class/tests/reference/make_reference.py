"""Writes reference.json: what scipy, statsmodels, pingouin and krippendorff say about published and made-up ratings.

The published sets are those of docs/sources.md; the others come from a fixed seed. Values are rounded to twelve significant
digits, so that the last bits of one machine's arithmetic do not show.
"""

import json
from pathlib import Path

import krippendorff
import numpy as np
import pandas as pd
import pingouin
from scipy import stats
from statsmodels.stats.inter_rater import cohens_kappa, fleiss_kappa
from statsmodels.stats.proportion import proportion_confint

HERE = Path(__file__).parent
random = np.random.default_rng(26)

TARGETS = [[9, 2, 5, 8], [6, 1, 3, 2], [8, 4, 6, 8], [7, 1, 2, 6], [10, 5, 6, 9], [6, 2, 4, 7]]
COHEN = [[88, 14, 18], [10, 40, 10], [2, 6, 12]]
EVERITT = [[106, 10, 4], [22, 28, 10], [2, 12, 6]]
SIMILARITY = [[1, 0, 4 / 9], [0, 1, 6 / 9], [4 / 9, 6 / 9, 1]]


def rounded(value):
    if isinstance(value, dict):
        return {key: rounded(entry) for key, entry in value.items()}
    if isinstance(value, (list, tuple, np.ndarray)):
        return [rounded(entry) for entry in value]
    if value is None or isinstance(value, (str, int)):
        return value
    value = float(value)
    return None if np.isnan(value) else float(f"{value:.12g}")


def icc(rows):
    frame = pd.DataFrame(rows).stack().reset_index()
    frame.columns = ["attempt", "examiner", "value"]
    table = pingouin.intraclass_corr(frame, targets="attempt", raters="examiner", ratings="value")
    interval = "CI95%" if "CI95%" in table.columns else "CI95"
    return [{"value": row["ICC"], "interval": row[interval]} for _, row in table.iterrows()]


def cohen(counts, weights):
    if isinstance(weights, list):
        # statsmodels wants disagreements.
        result = cohens_kappa(np.array(counts), weights=1 - np.array(weights))
    else:
        result = cohens_kappa(np.array(counts), wt=weights)
    return {"kappa": result.kappa, "error": np.sqrt(result.var_kappa)}


def ratings(n, k, missing):
    values = random.integers(0, 5, size=(n, 1)) + random.integers(-1, 2, size=(n, k))
    values = np.clip(values, 0, 4).astype(float)
    values[random.random((n, k)) < missing] = np.nan
    return values


def alphas(rows):
    scales = ["nominal", "ordinal", "interval", "ratio"]
    return {s: krippendorff.alpha(reliability_data=rows.T, level_of_measurement=s) for s in scales}


def kappas():
    return [
        {"counts": counts, "weights": weights, **cohen(counts, weights)}
        for counts in (COHEN, EVERITT)
        for weights in (None, "linear", "quadratic")
    ] + [{"counts": EVERITT, "weights": "similarity", **cohen(EVERITT, SIMILARITY)}]


def alpha_sets():
    sets = [ratings(30, 4, 0.0), ratings(25, 3, 0.25), ratings(12, 6, 0.1)]
    return [{"rows": rows, **alphas(rows)} for rows in sets]


def two_groups():
    sets = [([1.2, 0.8, 2.4, 1.9], [0.7, 0.5, 1.1, 0.6, 0.9]), (random.normal(0, 1, 9), random.normal(1, 1, 11))]
    result = []
    for first, second in sets:
        first, second = rounded(first), rounded(second)
        test = stats.mannwhitneyu(first, second, method="exact")
        result.append({"first": first, "second": second, "u": test.statistic, "p": test.pvalue})
    return result


def groups():
    sets = rounded([random.normal(m, 1, 8) for m in (0, 0.5, 1.5)])
    return {"groups": sets, "h": stats.kruskal(*sets).statistic}


def items():
    score = np.clip(random.normal(0, 1, (20, 1)) + random.normal(0, 1, (20, 5)), -2, 2) + 2
    score = np.array(rounded(score))
    alpha, interval = pingouin.cronbach_alpha(pd.DataFrame(score))
    rest = [np.corrcoef(score[:, i], score.sum(axis=1) - score[:, i])[0, 1] for i in range(5)]
    passed = (score > 2).astype(int)
    kr20 = pingouin.cronbach_alpha(pd.DataFrame(passed))[0]
    return {"rows": score, "alpha": alpha, "interval": interval, "rest": rest, "passed": passed.tolist(), "kr20": kr20}


def quantiles():
    cases = [(0.975, 5, 18), (0.975, 18, 5), (0.975, 5, 4.7), (0.9, 2.5, 33)]
    return {
        "f": [[*case, stats.f.ppf(*case)] for case in cases],
        "t": [[p, df, stats.t.ppf(p, df)] for p, df in [(0.975, 3), (0.975, 16), (0.95, 120)]],
        "chi_squared": [[p, df, stats.chi2.ppf(p, df)] for p, df in [(0.025, 17), (0.975, 17), (0.975, 3)]],
        "normal": [[p, stats.norm.ppf(p)] for p in (0.025, 0.6, 0.975, 0.995)],
    }


def main():
    wilson = [[81, 263], [15, 148], [0, 20], [1, 29], [8, 12], [12, 12]]
    reference = {
        "icc": {"rows": TARGETS, "answers": icc(TARGETS)},
        "kappa": kappas(),
        "alpha": alpha_sets(),
        "wilson": [[*case, *proportion_confint(*case, method="wilson")] for case in wilson],
        "two_groups": two_groups(),
        "groups": groups(),
        "items": items(),
        "quantiles": quantiles(),
        "theil_sen": list(stats.theilslopes([9, 15, 19, 20, 45, 55, 78], [1, 2, 3, 4, 10, 12, 18], 0.93)),
        "fleiss": fleiss_kappa(np.array([[3, 0, 2], [1, 4, 0], [0, 5, 0], [2, 2, 1], [5, 0, 0], [1, 1, 3]])),
    }
    (HERE / "reference.json").write_text(json.dumps(rounded(reference), indent=1) + "\n")


if __name__ == "__main__":
    main()
