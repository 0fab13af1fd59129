#!/usr/bin/env python3
"""Fits the ceiling model and writes its weights.

usage: ceiling.py TRAIN.csv... [--cross] [--compare] [--test TEST.csv...] [--out DIRECTORY]

TRAIN and TEST come from the program `ceiling` of the tests crate: `ceiling traces` renders songs and
keeps a trace of every hit, `ceiling evidence` makes rows of them, one a window of hits. Boosted
trees (CatBoost, Prokhorenkova et al. 2018: every tree asks four questions, the same on each level)
learn the reduction at hits from the evidence: the median over hits and its 90th percentile by
squared error, the ends of a range by the pinball loss (Koenker & Bassett 1978), the largest
value, and the odds that the hits are limited at all. Needs numpy and catboost. Prints the error on
TEST, whose songs, kits and limiters the fit has not seen, by window and by file; with --cross that of
five-fold cross-validation over the songs; with --compare that of other estimators beside it. --out takes the engine's directory of the
ceiling: `weights.rs` and `trees.bin` are written there.
"""
import csv
import json
import os
import sys

import numpy as np
from catboost import CatBoostClassifier, CatBoostRegressor

# The estimate itself is the mean, since that errs least in the worst tenth of files; a range needs
# quantiles.
# The mean of a file's windows errs less than a window does: with ends at 5 and 95 % the range holds the
# truth of 97 % of the bench's files, with these of 92 % (of songs left out in turn 88 %).
LOW, HIGH = 0.065, 0.935
LOSSES = [f"Quantile:alpha={LOW}", "RMSE", f"Quantile:alpha={HIGH}",
          f"Quantile:alpha={LOW}", "RMSE", f"Quantile:alpha={HIGH}", "RMSE"]
TREES = [300, 600, 300, 300, 600, 300, 400]
# Trees of the odds, and what they tell apart: windows with nothing taken from any hit, and those
# with as much from the median hit. What lies between belongs to neither.
ODDS_TREES, NONE_DB, LIMITED_DB = 400, 0.1, 1.5
DEPTH = 4
# The fit sees drives up to 13 dB, so that 9 dB is not the end of the world. Where evidence hardly tells
# how deep a ceiling is, the fit answers with the mean of what it saw; songs driven by more than
# records are would pull that up, so they count for less. Ours: chosen on songs left out in turn.
DEEP_DB, DEEP_WEIGHT = 9.0, 0.3
# So do mixes of which the drum bus alone is limited: they hardly differ from unlimited ones, and at full
# weight everything unlimited is read higher. Ours: 0.2 was chosen on songs left out in turn, from 0.1,
# 0.2, 0.35; beside the sessions and records that came later, 0.6 from 0.3, 0.45, 0.6 on held-out songs.
ON_DRUMS, ON_DRUMS_WEIGHT = "drum-bus", 0.6
# And parts alone: they are not what the reductions are asked for most. Ours.
PARTS, PARTS_WEIGHT = "parts-", 0.4
# Drums alone and mixes of a second make teach the odds only: beside them, the largest reduction of a
# programmed song no longer rises from 6 dB of drive to 9.
ODDS_ONLY = "session-"
# And records of other people teach the reductions only: beside them, distorted guitars alone are taken
# for limited.
RECORDS = "record-"
# The network that the trees are compared with.
HIDDEN = 16
MEMBERS = 2
HEADS = [("median_db", LOW), ("median_db", 0.5), ("median_db", HIGH),
         ("p90_db", LOW), ("p90_db", 0.5), ("p90_db", HIGH), ("max_db", 0.5)]
CLIP = 3.0
EPOCHS = 150
# Strong noise on the evidence keeps the fit from leaning on one song's accidents: chosen by
# cross-validation over songs.
NOISE, DECAY = 1.2, 2e-3
META = 10


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
    if out.shape[1] > len(HEADS) and limited.any() and none.any():
        odds = out[:, len(HEADS)]
        for found in (0.95, 0.97):
            limit = np.quantile(odds[limited], 1 - found)
            print(f"  odds over {limit:.2f} find {100 * found:.0f} % of 2 dB or more, and"
                  f" {100 * np.mean(odds[none] >= limit):.1f} % of the unlimited")


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


def weights(rows):
    deep = [DEEP_WEIGHT if float(row["drive_db"]) > DEEP_DB else 1.0 for row in rows]
    parts = np.array([row["song"].startswith(PARTS) for row in rows])
    return (np.array(deep) * np.where(on_drums(rows), ON_DRUMS_WEIGHT, 1.0)
            * np.where(parts, PARTS_WEIGHT, 1.0))


def reductions(x, y, rows):
    """What the reductions are learned from, and its weights."""
    keep = np.array([not row["song"].startswith(ODDS_ONLY) for row in rows])
    return x[keep], y[keep], weights([row for row, kept in zip(rows, keep) if kept])


def on_drums(rows):
    return np.array([row["processor"].startswith(ON_DRUMS) for row in rows])


def forest(x, y, rows, seed=0):
    """One set of trees a head, and one for the odds, which takes all depths alike, but none where the
    drum bus alone is limited: with these, compressed mixes are called limited."""
    own, truth, weight = reductions(x, y, rows)
    shared = dict(depth=DEPTH, l2_leaf_reg=20, rsm=0.3, subsample=0.5, bootstrap_type="Bernoulli",
                  border_count=64, random_seed=seed, thread_count=1, verbose=0,
                  allow_writing_files=False)
    models = []
    for head, (loss, trees) in enumerate(zip(LOSSES, TREES)):
        rate = 0.07 if loss == "RMSE" else 0.12
        model = CatBoostRegressor(loss_function=loss, iterations=trees, learning_rate=rate, **shared)
        model.fit(own.astype(np.float32), truth[:, head], sample_weight=weight)
        models.append(model)
    limited, none = y[:, 1] >= LIMITED_DB, y[:, 6] < NONE_DB
    records = np.array([row["song"].startswith(RECORDS) for row in rows])
    told = (limited | none) & ~on_drums(rows) & ~records
    odds = CatBoostClassifier(iterations=ODDS_TREES, learning_rate=0.07,
                              auto_class_weights="Balanced", **shared)
    odds.fit(x[told].astype(np.float32), limited[told].astype(int))
    return models + [odds]


def raw(models, x):
    """What the trees say, a column a head, and the logarithm of the odds."""
    x = x.astype(np.float32)
    return np.stack([m.predict(x, prediction_type="RawFormulaVal") for m in models], axis=1)


def ordered(out):
    """As the engine takes them: no end of a range over another, no 90th percentile under a median."""
    out = np.maximum(out, 0.0)
    out[:, 0:3] = np.sort(out[:, 0:3], axis=1)
    out[:, 3:6] = np.sort(out[:, 3:6], axis=1)
    out[:, 3:6] = np.maximum(out[:, 3:6], out[:, 0:3])
    out[:, 6] = np.maximum(out[:, 6], out[:, 4])
    return np.maximum(out, 0.0)


def answer(said):
    """What trees that said so answer, as the engine takes it."""
    return np.hstack([ordered(said[:, :len(HEADS)]), said[:, len(HEADS):]])


def scales(x):
    """Centre and scale of each piece of evidence."""
    return np.median(x, axis=0), np.std(x, axis=0) + 1e-6


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
    report("nearest neighbours, all evidence, by file", *by_file(yt, nearest(x, y, xt_all), rt), None)
    report("network, by file", *by_file(yt, predict(members, xt_all), rt), None)


def fit(x, y):
    centre, scale = scales(x)
    members = [train(prepare(x, centre, scale), y, seed) for seed in range(MEMBERS)]
    return centre, scale, members


def cross(x, y, rows, folds=5):
    songs = np.array([row["song"] for row in rows])
    order = np.random.default_rng(0).permutation(sorted(set(songs)))
    out = np.zeros((len(y), len(HEADS) + 1))
    for fold in range(folds):
        left_out = np.isin(songs, order[fold::folds])
        seen = x[~left_out], y[~left_out]
        rows_seen = [row for row, out_of in zip(rows, left_out) if not out_of]
        out[left_out] = answer(raw(forest(*seen, rows_seen), x[left_out]))
    report(f"songs left out in turn ({len(order)} songs)", y, out, rows)
    report("the same, by file", *by_file(y, out, rows), None)


def packed(model):
    """Trees as bytes, and the step of a leaf and the offset, dB. A tree is four numbers of
    evidence (u8), four borders (f32, little-endian), sixteen leaves (i16 in steps)."""
    name = "ceiling-model.json"
    model.save_model(name, format="json")
    with open(name) as file:
        made = json.load(file)
    os.remove(name)
    scale, bias = made["scale_and_bias"][0], made["scale_and_bias"][1][0]
    trees = made["oblivious_trees"]
    largest = max(abs(v) for tree in trees for v in tree["leaf_values"]) * scale
    step = largest / 32000.0
    out = b""
    for tree in trees:
        splits = tree["splits"]
        # A tree that asked less is filled up with a question that nothing answers with yes.
        fields = [split["float_feature_index"] for split in splits] + [0] * (DEPTH - len(splits))
        borders = [split["border"] for split in splits] + [np.inf] * (DEPTH - len(splits))
        leaves = np.zeros(1 << DEPTH)
        leaves[:len(tree["leaf_values"])] = tree["leaf_values"]
        out += np.array(fields, "u1").tobytes() + np.array(borders, "<f4").tobytes()
        out += np.round(leaves * scale / step).astype("<i2").tobytes()
    return out, len(trees), step, bias


def rust(models, centre, scale, example):
    packs = [packed(model) for model in models]
    said = answer(raw(models, example[None]))[0]
    heads = "\n".join(f"    Head {{ trees: {n}, step: {step:.9e}, offset: {bias:.6f} }},"
                      for _, n, step, bias in packs)
    def flat(a):
        values = [f"{value:.6f}" for value in a]
        rows = [", ".join(values[i:i + 8]) for i in range(0, len(values), 8)]
        return "\n".join(f"    {row}," for row in rows)
    return b"".join(pack[0] for pack in packs), f"""//! Weights of the ceiling model. Made by `tests/lab/fit/ceiling.py`; do not edit.

use super::evidence::EVIDENCE;
use super::tree::Head;

/// The trees, head by head; the script says how one is written.
pub(super) const TREES: &[u8] = include_bytes!("trees.bin");
/// The heads in the model's order.
pub(super) const HEADS: [Head; {len(packs)}] = [
{heads}
];
/// Centre of each piece of evidence.
pub(super) const CENTRE: [f32; EVIDENCE] = [
{flat(centre)}
];
/// Scale of each piece of evidence.
pub(super) const SCALE: [f32; EVIDENCE] = [
{flat(scale)}
];
/// Evidence of one window of the fit.
#[cfg(test)]
pub(super) const EXAMPLE: [f32; EVIDENCE] = [
{flat(example)}
];
/// What the fit says to it: median and 90th percentile, low end, best, high end, and the largest, dB;
/// the logarithm of the odds.
#[cfg(test)]
pub(super) const EXAMPLE_OUT: [f64; {len(said)}] = [
{flat(said)}
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
    models = forest(x, y, rows)
    report("seen by the fit", y, answer(raw(models, x)), rows)
    if tests:
        _, xt, yt, rt = read(tests)
        out_t = answer(raw(models, xt))
        report("not seen", yt, out_t, rt)
        report("not seen, by file", *by_file(yt, out_t, rt), None)
        if compared:
            compare(names, x, y, xt, yt, rt)
    if out:
        trees, text = rust(models, *scales(reductions(x, y, rows)[0]), x[np.argmax(y[:, 1])])
        with open(os.path.join(out, "trees.bin"), "wb") as file:
            file.write(trees)
        with open(os.path.join(out, "weights.rs"), "w") as file:
            file.write(text)


if __name__ == "__main__":
    main(sys.argv[1:])
