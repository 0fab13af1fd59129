"""Fits the suggested role: python3 tests/lab/fit/roles.py ROWS --out plugin/engine/src/parts/suggest/weights.rs

ROWS comes from `parts roles FILE tuning N SEED`: a line a stem, number of the plan, name, role,
evidence. With --test ROWS the table of confusions on other stems. Needs numpy and scikit-learn.
"""

import argparse

import numpy as np
from sklearn.linear_model import LogisticRegression

# The last class is what no suggestion is made for.
CLASSES = ["drums", "bass", "guitars", "rest"]
# Evidence further out than anything seen says nothing more.
FAR = 3.0
# How much less the products may say than the evidence itself.
PRODUCTS = 0.3
# `LEAST_LOG_ODDS` of thresholds/role.rs: what is read here on plans left out in turn.
LEAST = [0.0, 0.0, 0.8]


def load(path):
    lines = [line.split() for line in open(path)]
    names = np.array([line[1] for line in lines])
    roles = [line[2] if line[2] in CLASSES else "rest" for line in lines]
    known = np.array([len(line) > 3 for line in lines])
    width = max(len(line) for line in lines) - 3
    x = np.array([[float(v) for v in line[3:]] or [0.0] * width for line in lines])
    y = np.array([CLASSES.index(role) for role in roles])
    return np.array([int(line[0]) for line in lines]), names, y, known, x


def spread_out(z):
    """The evidence and its squares and products: straight lines in these bend in the evidence."""
    z = np.clip(z, -FAR, FAR)
    i, j = np.triu_indices(z.shape[1])
    return np.hstack([z, PRODUCTS * z[:, i] * z[:, j]])


class Model:
    def __init__(self, x, y, strength):
        self.mean, self.scale = x.mean(0), x.std(0) + 1e-6
        self.fit = LogisticRegression(C=strength, max_iter=3000)
        self.fit.fit(spread_out((x - self.mean) / self.scale), y)

    def odds(self, x):
        return self.fit.predict_log_proba(spread_out((x - self.mean) / self.scale))


def margins(log_p):
    """The likeliest class, and the logarithm of its odds against all others together."""
    best = log_p.argmax(1)
    p = np.exp(log_p[np.arange(len(best)), best])
    return best, np.log(p / np.maximum(1 - p, 1e-9))


def table(title, names, y, known, log_p, least):
    best, sure = margins(log_p)
    said = np.where(known & (sure >= np.array([*least, np.inf])[best]), best, 3)
    print(f"{title}: log odds from {least}")
    for name in dict.fromkeys(names):
        own = names == name
        counts = [int(np.sum(said[own] == k)) for k in range(4)]
        print(f"  {name:12} {CLASSES[y[own][0]]:8}", *(f"{c}:{n}" for c, n in zip(CLASSES, counts)))
    for k in range(3):
        own = y == k
        print(f"  {CLASSES[k]:8} right {np.mean(said[own] == k):.3f}", end=" ")
        print(f"wrong {np.mean((said[own] != k) & (said[own] < 3)):.3f}", end=" ")
        print(f"of those said {np.mean(y[said == k] == k):.3f}")
    own = y == 3
    print(f"  rest     wrong {np.mean(said[own] < 3):.3f}")
    print(f"  all      wrong {np.mean((said != y) & (said < 3)):.3f} of {len(y)}")


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("rows")
    parser.add_argument("--test")
    parser.add_argument("--out")
    parser.add_argument("--strength", type=float, default=0.1)
    args = parser.parse_args()
    plan, names, y, known, x = load(args.rows)
    # What a threshold does is read on plans left out in turn.
    log_p = np.zeros((len(y), 4))
    for fold in range(5):
        held = plan % 5 == fold
        model = Model(x[known & ~held], y[known & ~held], args.strength)
        log_p[held] = model.odds(x[held])
    table("plans left out", names, y, known, log_p, LEAST)
    model = Model(x[known], y[known], args.strength)
    if args.test:
        _, test_names, test_y, test_known, test_x = load(args.test)
        table("test", test_names, test_y, test_known, model.odds(test_x), LEAST)
    if args.out:
        write(args.out, model)


def write(path, model):
    numbers = lambda row: ", ".join(f"{v:.5f}" for v in row)
    with open(path, "w") as out:
        out.write("//! Weights of the suggested role. Made by `tests/lab/fit/roles.py`; do not edit.\n\n")
        out.write("use super::evidence::ROLE_EVIDENCE;\n\n")
        out.write("/// Centre of each piece of evidence.\n#[rustfmt::skip]\n")
        out.write(f"pub(super) const CENTRE: [f64; ROLE_EVIDENCE] = [{numbers(model.mean)}];\n")
        out.write("/// Spread of each piece of evidence.\n#[rustfmt::skip]\n")
        out.write(f"pub(super) const SPREAD: [f64; ROLE_EVIDENCE] = [{numbers(model.scale)}];\n")
        out.write(f"/// Evidence further out than so many spreads says nothing more.\n")
        out.write(f"pub(super) const FAR: f64 = {FAR:.1};\n")
        out.write("/// Classes: drums, bass, guitars, and everything else.\n")
        out.write(f"pub(super) const CLASSES: usize = {len(CLASSES)};\n")
        out.write("/// Offsets of the classes.\n")
        out.write(f"pub(super) const OFFSET: [f64; CLASSES] = [{numbers(model.fit.intercept_)}];\n")
        out.write("/// Weights of the evidence, then of its products, first with itself and all that\n")
        out.write("/// follow it, a row a product.\n#[rustfmt::skip]\n")
        rows = model.fit.coef_.T.copy()
        rows[len(model.mean) :] *= PRODUCTS
        out.write(f"pub(super) static WEIGHTS: [[f32; CLASSES]; {len(rows)}] = [\n")
        out.writelines(f"    [{numbers(row)}],\n" for row in rows)
        out.write("];\n")


main()
