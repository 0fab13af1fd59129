#!/usr/bin/env python3
"""Fits the share of its own attack that a guitar kept.

  fit.py FOLDER[,FOLDER]                the weights of plugin/engine/src/parts/drive/weights.rs, to the output
  fit.py FOLDER[,FOLDER] COUNT [--nested]   chooses COUNT numbers instead, and shows what each is worth

Ridge regression. The numbers were chosen forward by the mean error on sources left out in turn
(amplifiers, riffs, kinds of riff, instruments); --nested chooses again for each source left out."""
import sys
import numpy as np
from scipy.stats import spearmanr
from load import load

BANNED = ("kurt", "form", "flat")      # these need more than a part's cells hold
LAMBDA = .02
FAR = 4.0
CHOSEN = ["log q98_90", "log cell20_90", "mv8_hi", "crest_tilt", "log t98_50", "q98_90", "log mv_hi", "log fall20_25", "move60_80"]


def data(folders):
    rows = load(folders)
    names = sorted(rows[0][0])
    X = np.array([[f[n] for n in names] for f, _ in rows])
    M = [m for _, m in rows]
    positive = [i for i, n in enumerate(names) if X[:, i].min() > -.2 and n != "plays"]
    X = np.hstack([X, np.log(np.maximum(X[:, positive], 0) + .3)])
    names = names + ["log " + names[i] for i in positive]
    ok = np.isfinite(X).all(1)
    keep = [i for i, n in enumerate(names) if not any(b in n for b in BANNED)]
    M = [m for m, o in zip(M, ok) if o]
    own, ref = np.array([m["own"] for m in M]), np.array([m["ref"] for m in M])
    return [names[i] for i in keep], X[ok][:, keep], M, np.clip(own / np.maximum(ref, .5), 0, 1.1)


class Grams:
    """Sums of products a group, so that leaving one out costs one solve."""
    def __init__(self, Z, y, w, groups):
        self.labels = sorted(set(groups))
        A = np.hstack([np.ones((len(y), 1)), Z, y[:, None]])
        g = np.array(groups)
        self.each = [(A[g == l] * w[g == l, None]).T @ A[g == l] for l in self.labels]
        self.all = sum(self.each)

    def error(self, c):
        i = np.array([0] + [k + 1 for k in c])
        n = self.all.shape[0] - 1
        total = 0.0
        for G in self.each:
            T = self.all - G
            P = LAMBDA * T[0, 0] * np.eye(len(i)); P[0, 0] = 0
            b = np.linalg.solve(T[np.ix_(i, i)] + P, T[i, n])
            total += b @ G[np.ix_(i, i)] @ b - 2 * b @ G[i, n] + G[n, n]
        return total / self.all[0, 0]


def choose(Z, y, w, groupings, count, loud=None):
    grams = [Grams(Z, y, w, g) for g in groupings]
    chosen = []
    for _ in range(count):
        errs = [(np.mean([g.error(chosen + [n]) for g in grams]), n) for n in range(Z.shape[1]) if n not in chosen]
        best = min(errs)
        chosen.append(best[1])
        if loud:
            print("  %-14s rmse on sources left out %.3f" % (loud[best[1]], best[0] ** .5))
    return chosen


def solve(Z, y, w):
    A = np.hstack([np.ones((len(y), 1)), Z])
    P = LAMBDA * w.sum() * np.eye(A.shape[1]); P[0, 0] = 0
    return np.linalg.solve((A * w[:, None]).T @ A + P, (A * w[:, None]).T @ y)


def evaluate(p, y, M):
    sets = {}
    for i, m in enumerate(M):
        sets.setdefault(m["set"], []).append(i)
    kind, g = np.array([m["kind"] for m in M]), np.array([m["g"] for m in M])
    print("   rmse %.3f, median abs %.3f" % (np.sqrt(((p - y) ** 2).mean()), np.median(abs(p - y))))
    steps = [(s[a], s[b]) for s in sets.values() if len(s) == 7 for a, b in ((0, 2), (2, 4), (4, 6), (1, 3), (3, 5)) if y[s[a]] - y[s[b]] > .08]
    print("   steps of more than 0.08 in order: %.3f of %d" % (np.mean([p[a] > p[b] for a, b in steps]), len(steps)))
    for k in ("ring", "muted", "trem", "line", "mixed"):
        lo, hi = (kind == k) & (g <= 1), (kind == k) & (y < .3)
        print("   %-6s clean 5th, 50th %s; saturated 50th, 95th %s" % (k, np.round(np.quantile(p[lo], [.05, .5]), 2), np.round(np.quantile(p[hi], [.5, .95]), 2)))


def main():
    names, X, M, y = data(sys.argv[1])
    count = int(sys.argv[2]) if len(sys.argv) > 2 else 0
    mu, sd = X.mean(0), X.std(0) + 1e-9
    Z = np.clip((X - mu) / sd, -FAR, FAR)
    w = np.ones(len(y))
    groups = {k: [m[k] for m in M] for k in ("amp", "row", "kind", "source")}
    if not count:
        c = [names.index(n) for n in CHOSEN]
        b = solve(Z[:, c], y, w)
        row = lambda v: "[" + ", ".join("%.5f" % x for x in v) + "]"
        print("//! Weights of the share of attack that a guitar kept. Made by `tests/lab/drive/fit.py`; do not edit.\n")
        print("/// Numbers of the evidence.\npub const EVIDENCE: usize = %d;" % len(c))
        print("/// Numbers further out than so many spreads say nothing more.\npub(super) const FAR: f64 = %.1f;" % FAR)
        print("/// The share where every number is at its centre.\npub(super) const OFFSET: f64 = %.5f;" % b[0])
        for doc, name, v in (("Centre of each number.", "CENTRE", mu[c]), ("Spread of each number.", "SPREAD", sd[c]), ("Weight of each number, a spread.", "WEIGHTS", b[1:])):
            print("/// %s\n#[rustfmt::skip]\npub(super) const %s: [f64; EVIDENCE] = %s;" % (doc, name, row(v)))
        return
    print(len(y), "takes of", len({m["set"] for m in M}), "riffs")
    c = choose(Z, y, w, list(groups.values()), count, names)
    for k, g in groups.items():
        p = np.zeros(len(y))
        for l in sorted(set(g)):
            te = np.array([v == l for v in g])
            if "--nested" in sys.argv:
                cc = choose(Z[~te], y[~te], w[~te], [[v for v, t in zip(gg, te) if not t] for gg in groups.values()], count)
            else:
                cc = c
            b = solve(Z[~te][:, cc], y[~te], w[~te])
            p[te] = b[0] + Z[te][:, cc] @ b[1:]
        print("left out by", k)
        evaluate(p, y, M)
    b = solve(Z[:, c], y, w)
    print("constant %.4f" % b[0])
    for n, v in zip(c, b[1:]):
        print("%-14s mean %.4f sd %.4f weight %.4f, 1st to 99th percentile %.2f to %.2f" % (names[n], mu[n], sd[n], v, *np.quantile(X[:, n], [.01, .99])))


if __name__ == "__main__":
    main()
