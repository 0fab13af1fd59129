#!/usr/bin/env python3
"""Fits the ceiling model and writes its weights.

usage: ceiling.py TRAIN.csv... [--cross] [--compare] [--test TEST.csv...] [--out weights.rs]

TRAIN and TEST come from the program `ceiling` of the tests crate: `ceiling traces` renders songs and
keeps a trace of every hit, `ceiling evidence` makes rows of them, one a window of hits. A small
network (one hidden layer; two of them, averaged) learns quantiles of the reduction at hits from the
evidence: the median over hits (5, 50, 95 %), its 90th percentile (5, 50, 95 %) and its largest
value (50 %), with the pinball loss (Koenker & Bassett 1978). Needs numpy alone. Prints the error on
TEST, whose songs, kits and limiters the fit has not seen, by window and by file; with --cross that
of five-fold cross-validation over the songs; with --compare that of other estimators beside it.
"""
import csv
import sys

import numpy as np

HIDDEN = 16
MEMBERS = 2
HEADS = [("median_db", 0.05), ("median_db", 0.5), ("median_db", 0.95),
         ("p90_db", 0.05), ("p90_db", 0.5), ("p90_db", 0.95), ("max_db", 0.5)]
CLIP = 3.0
EPOCHS = 150
# Strong noise on the evidence keeps the fit from leaning on one song's accidents: chosen by
# cross-validation over songs.
NOISE, DECAY = 1.2, 2e-3
META = 10
# Hits of a whole window and of a section: the engine's own numbers. Straight lines go on where the
# network has seen nothing, but mistake a few equal hits for limited ones.
WINDOW, SECTION, LINES_SHARE = 64, 24, 0.5


def read(paths):
    rows = []
    for path in paths:
        with open(path, newline="") as file:
            rows += [(path, row) for row in csv.DictReader(file) if None not in row.values()]
    names = list(rows[0][1])[META:]
    x = np.array([[float(row[n]) for n in names] for _, row in rows])
    y = np.array([[float(row[n]) for n, _ in HEADS] for _, row in rows])
    # Lossy codecs overshoot: no reduction is less than none.
    return names, x, np.maximum(y, 0.0), [dict(row, path=path) for path, row in rows]


def prepare(x, centre, scale):
    return np.clip((x - centre) / scale, -CLIP, CLIP)


def forward(p, x):
    hidden = np.tanh(x @ p["w1"] + p["b1"])
    return hidden, hidden @ p["w2"] + p["b2"]


def train(x, y, seed, decay=DECAY, noise=NOISE):
    rng = np.random.default_rng(seed)
    quantile = np.array([q for _, q in HEADS])
    p = {"w1": rng.normal(0, 1 / np.sqrt(x.shape[1]), (x.shape[1], HIDDEN)), "b1": np.zeros(HIDDEN),
         "w2": rng.normal(0, 1 / np.sqrt(HIDDEN), (HIDDEN, len(HEADS))), "b2": np.median(y, axis=0)}
    m = {k: np.zeros_like(v) for k, v in p.items()}
    v = {k: np.zeros_like(w) for k, w in p.items()}
    step, batch = 0, 128
    for epoch in range(EPOCHS):
        rate = 3e-3 * 0.5 * (1 + np.cos(np.pi * epoch / EPOCHS))
        order = rng.permutation(len(x))
        for start in range(0, len(order), batch):
            pick = order[start:start + batch]
            xb, yb = x[pick] + rng.normal(0, noise, (len(pick), x.shape[1])), y[pick]
            hidden, out = forward(p, xb)
            d = np.where(yb > out, -quantile, 1 - quantile) / len(pick)
            back = (d @ p["w2"].T) * (1 - hidden ** 2)
            g = {"w2": hidden.T @ d + decay * p["w2"], "b2": d.sum(0),
                 "w1": xb.T @ back + decay * p["w1"], "b1": back.sum(0)}
            step += 1
            for k in p:
                m[k] = 0.9 * m[k] + 0.1 * g[k]
                v[k] = 0.999 * v[k] + 0.001 * g[k] ** 2
                p[k] -= rate * (m[k] / (1 - 0.9 ** step)) / (np.sqrt(v[k] / (1 - 0.999 ** step)) + 1e-8)
    return p


def predict(members, x):
    out = np.mean([forward(p, x)[1] for p in members], axis=0)
    out[:, 0:3] = np.sort(out[:, 0:3], axis=1)
    out[:, 3:6] = np.sort(out[:, 3:6], axis=1)
    return np.maximum(out, 0.0)


def report(title, y, out, rows):
    print(f"{title}: {len(y)} rows")
    for name, at in (("median", 1), ("p90", 4)):
        error = np.abs(out[:, at] - y[:, at])
        r = np.corrcoef(out[:, at], y[:, at])[0, 1]
        inside = np.mean((y[:, at] >= out[:, at - 1] - 0.05) & (y[:, at] <= out[:, at + 1] + 0.05))
        print(f"  {name:6} error median {np.median(error):.2f} p90 {np.percentile(error, 90):.2f} dB"
              f"  r {r:.3f}  range covers {100 * inside:.0f} %")
    limited, none = y[:, 1] >= 2.0, y[:, 6] < 0.1
    hit = np.mean(out[limited, 1] >= 1.0) if limited.any() else float("nan")
    false = np.mean(out[none, 1] >= 1.0) if none.any() else float("nan")
    false9 = np.mean(out[none, 3] >= 0.3) if none.any() else float("nan")
    print(f"  says 1 dB or more at 2 dB or more: {100 * hit:.1f} % of {limited.sum()};"
          f" of {none.sum()} unlimited: {100 * false:.1f} %; p90 low end over 0.3: {100 * false9:.1f} %")


def by_file(y, out, rows):
    """Means over the windows of each file, weighted by their hits."""
    key = np.array([row["path"] + row["file"] for row in rows])
    hits = np.array([float(row["hits"]) for row in rows])
    files = [key == name for name in sorted(set(key))]
    def mean(a):
        return np.array([np.average(a[k], axis=0, weights=hits[k]) for k in files])
    return mean(y), mean(out)


def nearest(x, y, xt, k=25):
    """Quantiles of the k rows nearest in evidence."""
    out = np.zeros((len(xt), len(HEADS)))
    for i, row in enumerate(xt):
        near = np.argpartition(((x - row) ** 2).sum(1), k)[:k]
        out[i] = [np.quantile(y[near, h], q) for h, (_, q) in enumerate(HEADS)]
    return out


def lines(x, y, penalty=30.0):
    """Ridge regression of each head's target; the offset from the residuals' quantiles."""
    one = np.hstack([x, np.ones((len(x), 1))])
    w = np.linalg.solve(one.T @ one + penalty * np.eye(one.shape[1]), one.T @ y)
    rest = y - one @ w
    shift = [np.quantile(rest[:, h], q) for h, (_, q) in enumerate(HEADS)]
    return w[:-1], w[-1] + shift


def linear(of, x):
    return np.maximum(x @ of[0] + of[1], 0.0)


def both(members, of, x, hits):
    """Network and lines, as the engine takes them: the more hits, the more of the lines."""
    share = LINES_SHARE * np.clip((np.asarray(hits, float) - SECTION) / (WINDOW - SECTION), 0, 1)
    share = share.reshape(-1, 1)
    out = (1 - share) * predict(members, x) + share * linear(of, x)
    out[:, 0:3] = np.sort(out[:, 0:3], axis=1)
    out[:, 3:6] = np.sort(out[:, 3:6], axis=1)
    return out


def compare(names, x, y, xt, yt, rt):
    centre, scale, members = fit(x, y)
    x, xt_all = prepare(x, centre, scale), prepare(xt, centre, scale)
    def only(name):
        keep = [names.index(name)]
        return x[:, keep], xt_all[:, keep]
    for title, name in (("ratio of peak to loudness alone", "peak_max_less_loudness_db"),
                        ("peaks: 97th less 90th percentile alone", "peak_p97_less_p90_db"),
                        ("share of hits within 0.3 dB of the top alone", "share_within_0.3_db")):
        a, b = only(name)
        report(title + ", by file", *by_file(yt, nearest(a, y, b, 200), rt), None)
    report("linear, all evidence, by file", *by_file(yt, linear(lines(x, y), xt_all), rt), None)
    report("nearest neighbours, all evidence, by file", *by_file(yt, nearest(x, y, xt_all), rt), None)
    report("network, by file", *by_file(yt, predict(members, xt_all), rt), None)
    hits = [row["hits"] for row in rt]
    report("network and lines, by file",
           *by_file(yt, both(members, lines(x, y), xt_all, hits), rt), None)


def fit(x, y):
    centre, scale = np.median(x, axis=0), np.std(x, axis=0) + 1e-6
    members = [train(prepare(x, centre, scale), y, seed) for seed in range(MEMBERS)]
    return centre, scale, members


def cross(x, y, rows, folds=5):
    songs = np.array([row["path"] + row["song"] for row in rows])
    order = np.random.default_rng(0).permutation(sorted(set(songs)))
    out = np.zeros_like(y)
    for fold in range(folds):
        left_out = np.isin(songs, order[fold::folds])
        centre, scale, members = fit(x[~left_out], y[~left_out])
        of = lines(prepare(x[~left_out], centre, scale), y[~left_out])
        hits = [row["hits"] for row, out_of in zip(rows, left_out) if out_of]
        out[left_out] = both(members, of, prepare(x[left_out], centre, scale), hits)
    report(f"songs left out in turn ({len(order)} songs)", y, out, rows)


def rust(members, of, centre, scale, example):
    # The mean of networks is one network with all their hidden units.
    p = {"w1": np.hstack([m["w1"] for m in members]), "b1": np.hstack([m["b1"] for m in members]),
         "w2": np.vstack([m["w2"] for m in members]) / len(members),
         "b2": np.mean([m["b2"] for m in members], axis=0)}
    answer = both(members, of, prepare(example[None], centre, scale), [WINDOW])[0, :6]
    def flat(a):
        values = [f"{value:.6f}" for value in np.asarray(a).ravel()]
        lines = [", ".join(values[i:i + 8]) for i in range(0, len(values), 8)]
        return "\n    ".join(line + "," for line in lines)
    def rows(a, kind):
        return "\n    ".join("[" + flat(row) + "]," for row in a)
    return f"""//! Weights of the ceiling model. Made by `tests/fit/ceiling.py`; do not edit.

use super::EVIDENCE;

/// Hidden units.
pub(super) const HIDDEN: usize = {HIDDEN * len(members)};
/// Outputs, see the model.
pub(super) const HEADS: usize = {len(HEADS)};
/// Centre of each piece of evidence.
pub(super) const CENTRE: [f32; EVIDENCE] = [
    {flat(centre)}
];
/// Scale of each piece of evidence.
pub(super) const SCALE: [f32; EVIDENCE] = [
    {flat(scale)}
];
/// First layer: a row a hidden unit.
pub(super) const FIRST: [[f32; EVIDENCE]; HIDDEN] = [
    {rows(p["w1"].T, "EVIDENCE")}
];
/// Offsets of the first layer.
pub(super) const FIRST_OFFSET: [f32; HIDDEN] = [
    {flat(p["b1"])}
];
/// Second layer: a row an output.
pub(super) const SECOND: [[f32; HIDDEN]; HEADS] = [
    {rows(p["w2"].T, "HIDDEN")}
];
/// Offsets of the second layer, dB.
pub(super) const SECOND_OFFSET: [f32; HEADS] = [
    {flat(p["b2"])}
];
/// Straight lines: a row an output.
pub(super) const LINES: [[f32; EVIDENCE]; HEADS] = [
    {rows(of[0].T, "EVIDENCE")}
];
/// Their offsets, dB.
pub(super) const LINES_OFFSET: [f32; HEADS] = [
    {flat(of[1])}
];
/// Evidence of one window of the fit.
#[cfg(test)]
pub(super) const EXAMPLE: [f32; EVIDENCE] = [
    {flat(example)}
];
/// What the fit says to it: median and 90th percentile, low end, best, high end, dB.
#[cfg(test)]
pub(super) const EXAMPLE_OUT: [f64; 6] = [
    {flat(answer)}
];
"""


def main(arguments):
    out = None
    if "--out" in arguments:
        at = arguments.index("--out")
        out = arguments[at + 1]
        del arguments[at:at + 2]
    tests = []
    if "--test" in arguments:
        at = arguments.index("--test")
        tests = arguments[at + 1:]
        arguments = arguments[:at]
    crossed, compared = "--cross" in arguments, "--compare" in arguments
    names, x, y, rows = read([a for a in arguments if not a.startswith("--")])
    if crossed:
        cross(x, y, rows)
    centre, scale, members = fit(x, y)
    seen = prepare(x, centre, scale)
    of = lines(seen, y)
    report("seen by the fit", y, both(members, of, seen, [row["hits"] for row in rows]), rows)
    if tests:
        _, xt, yt, rt = read(tests)
        hits = [row["hits"] for row in rt]
        out_t = both(members, of, prepare(xt, centre, scale), hits)
        report("not seen", yt, out_t, rt)
        report("not seen, by file", *by_file(yt, out_t, rt), None)
        if compared:
            compare(names, x, y, xt, yt, rt)
    if out:
        with open(out, "w") as file:
            file.write(rust(members, of, centre, scale, x[np.argmax(y[:, 1])]))


if __name__ == "__main__":
    main(sys.argv[1:])
