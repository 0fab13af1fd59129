#!/usr/bin/env python3
"""Fits the networks that read the ceiling from the hits of a window as a set, and writes their weights.

usage: sets.py TRACES... [--without SOURCE...] [--out DIRECTORY]

TRACES are names without endings: NAME.csv as `ceiling traces` writes it, and NAME.64.csv, NAME.40.csv and
NAME.24.csv as `ceiling evidence` makes them of it. Each hit goes through two layers, the hits of a window are
pooled by mean, by spread and by three weightings that are learned as well (deep sets, Zaheer et al. 2017, with
the attention pooling of Ilse et al. 2018), and two layers more make of that and of the window's evidence what
the trees say: low end, best and high end of the median reduction and of its 90th percentile, and the
largest. NETWORKS of them are fitted from different starts, and their answers averaged. The engine answers with
the mean of the trees' answer and this one. --without leaves whole sources
out (as `further.py` names them) and prints how the network, the trees as they are in the engine, and their mean
read those. Needs numpy, jax and optax.
"""
import collections
import os
import sys

import jax
import jax.numpy as jnp
import numpy as np
import optax

import ceiling as first
import further

SIZES = (64, 40, 24)
MOST = 64
STEP = 16
META = 8
# What of a trace is no input: time, and sums over the song so far.
LEFT_OUT = ("time_s", "peak_dbtp", "energy_so_far", "cells_so_far")
LEVELS = ("level_lufs", "bed_lufs", "low_dbfs", "mid_dbfs", "high_dbfs", "plain_dbfs")
COMPARED = ("level_lufs", "plain_dbfs", "low_dbfs", "mid_dbfs", "high_dbfs", "bed_lufs")
# As in `thresholds/ceiling_set.rs` and `ceiling/set.rs`.
TOP, NEAR_DB = further.TOP, further.NEAR_DB
LONG_AGO_S, ALIKE, CLIP, LEAST_VARIANCE = 3.0, 9, 4.0, 1e-4
OF_HIT, OF_SET, POOLS = 48, 64, 3
STEPS, BATCH, RATE, DECAY = 3000, 64, 2e-3, 1e-2
# As in `ceiling/set.rs`.
NETWORKS = 3
# Noise on what is known of hits and of the window, in standard deviations, and the share of pooled numbers
# left out of each step: what the network cannot lean on, it does not. Ours.
NOISE, NOISE_WINDOW, DROP = 0.3, 0.45, 0.2
# Error from which the loss grows in a straight line, dB: near enough the median of what is likely, which
# takes fewer hits of nothing for limited ones than the mean does. Ours.
BEND_DB = 0.25


def traces(name):
    """Traces of every file of NAME.csv, hits x numbers, and their names."""
    names, files = further.traces(name + ".csv")
    numbers = {key: np.array([hit[META:] for hit in hits], np.float32) for key, hits in files.items()}
    return names[META:], numbers


def inputs(names, window):
    """What the network gets of each hit of a window, hits x numbers; as `ceiling/set.rs` has it."""
    of = {name: window[:, at] for at, name in enumerate(names)}
    peak, level, sample = of["peak_dbtp"], of["level_lufs"], of["peak_dbtp"] - of["over_sample_db"]
    top = np.quantile(peak, TOP)
    out = [top - peak, np.quantile(sample, TOP) - sample]
    out += [of[name] - top if name in LEVELS else of[name] for name in names if name not in LEFT_OUT]
    for value in [of[name] for name in COMPARED] + [peak - level, peak - of["plain_dbfs"]]:
        out.append(value - np.median(value))
    since, reached = np.full(len(peak), LONG_AGO_S), None
    for at, time in enumerate(of["time_s"]):
        if reached is not None:
            since[at] = np.clip(time - reached, 0, LONG_AGO_S)
        reached = time if peak[at] >= top - NEAR_DB else reached
    shape = np.stack([of[name] - level for name in ("low_dbfs", "mid_dbfs", "high_dbfs")], axis=1)
    apart = ((shape[:, None] - shape[None]) ** 2).sum(axis=2)
    alike = np.argsort(apart, axis=1)[:, :ALIKE]
    peaks, crest = peak[alike], peak - level
    out += [since, peaks.max(axis=1) - peak, np.median(peaks, axis=1) - peak, peaks.min(axis=1) - peak,
            np.median(level[alike], axis=1) - level, crest[alike].max(axis=1) - crest,
            np.median(crest[alike], axis=1) - crest]
    return np.stack(out, axis=1)


def read(paths):
    """Inputs of every window, its hits, evidence, truth and row; and the traces of one of 24 hits."""
    sets, counts, evidence, truth, rows, example = [], [], [], [], [], None
    for path in paths:
        names, files = traces(path)
        for size in SIZES:
            _, x, y, of = first.read([f"{path}.{size}.csv"])
            place = collections.Counter()
            for at, row in enumerate(of):
                hits = files[row["file"]]
                end = min(min(size, len(hits)) + STEP * place[row["file"]], len(hits))
                place[row["file"]] += 1
                window = hits[max(0, end - size):end]
                assert len(window) == int(row["hits"]), (path, size, row["file"])
                if len(window) == min(SIZES) and y[at][1] > 3.0:
                    example = (window, x[at])
                made = inputs(names, window)
                sets.append(np.pad(made, ((0, MOST - len(made)), (0, 0))))
                counts.append(len(made))
                evidence.append(x[at])
                truth.append(y[at])
                rows.append(row)
    return np.array(sets, np.float32), np.array(counts), np.array(evidence), np.array(truth), rows, example


def dense(key, inside, outside):
    return {"w": jax.random.normal(key, (inside, outside)) * np.sqrt(1.5 / inside), "b": jnp.zeros(outside)}


def start(key, of_hit, of_window):
    key = jax.random.split(key, 6)
    pooled = OF_HIT * (2 + POOLS) + of_window
    return {"hit": dense(key[0], of_hit, OF_HIT), "again": dense(key[1], OF_HIT, OF_HIT),
            "pools": dense(key[2], OF_HIT, POOLS), "set": dense(key[3], pooled, OF_SET),
            "more": dense(key[4], OF_SET, OF_SET), "out": dense(key[5], OF_SET, len(first.HEADS))}


def apply(layer, x):
    return x @ layer["w"] + layer["b"]


def forward(p, hits, there, window, key=None):
    """Answers of windows: batch x heads. `there`: 1 where there is a hit."""
    if key is not None:
        keys = jax.random.split(key, 3)
        hits = hits + NOISE * jax.random.normal(keys[0], hits.shape)
        window = window + NOISE_WINDOW * jax.random.normal(keys[1], window.shape)
    each = jax.nn.relu(apply(p["again"], jax.nn.relu(apply(p["hit"], hits))))
    count = there.sum(axis=1)[:, None]
    mean = (each * there[..., None]).sum(axis=1) / count
    spread = jnp.sqrt((((each - mean[:, None]) ** 2) * there[..., None]).sum(axis=1) / count + LEAST_VARIANCE)
    say = jax.nn.softmax(jnp.where(there[..., None] > 0, apply(p["pools"], each), -1e9), axis=1)
    pooled = [(each * say[:, :, n:n + 1]).sum(axis=1) for n in range(POOLS)]
    z = jnp.concatenate([mean, spread, *pooled, window], axis=1)
    if key is not None:
        z = z * jax.random.bernoulli(keys[2], 1 - DROP, z.shape) / (1 - DROP)
    return apply(p["out"], jax.nn.relu(apply(p["more"], jax.nn.relu(apply(p["set"], z)))))


QUANTILES = jnp.array([q for _, q in first.HEADS])
ENDS = jnp.array([q != 0.5 for _, q in first.HEADS])


def loss(p, hits, there, window, y, key):
    """Huber's for the best estimates, the pinball loss for the ends of the ranges."""
    off = y - forward(p, hits, there, window, key)
    return jnp.where(ENDS, jnp.maximum(QUANTILES * off, (QUANTILES - 1) * off),
                     optax.huber_loss(off, delta=BEND_DB) / np.sqrt(BEND_DB)).mean()


def fit(*windows):
    """Networks from different starts."""
    return [fit_one(*windows, seed) for seed in range(NETWORKS)]


def fit_one(hits, counts, window, y, weight, seed, steps=STEPS):
    """A network fitted on windows, drawn by their weights."""
    rng, key = np.random.default_rng(seed), jax.random.PRNGKey(seed)
    p = start(key, hits.shape[2], window.shape[1])
    how = optax.adamw(optax.cosine_decay_schedule(RATE, steps), weight_decay=DECAY)
    state = how.init(p)

    @jax.jit
    def step(p, state, *batch):
        slope = jax.grad(loss)(p, *batch)
        update, state = how.update(slope, state, p)
        return optax.apply_updates(p, update), state

    reach = np.cumsum(weight / weight.sum())
    for at in range(steps):
        pick = np.minimum(np.searchsorted(reach, rng.random(BATCH)), len(y) - 1)
        there = (np.arange(MOST) < counts[pick, None]).astype(np.float32)
        key, now = jax.random.split(key)
        p, state = step(p, state, hits[pick], there, window[pick], y[pick].astype(np.float32), now)
    return p


def predict(networks, hits, counts, window):
    """What they answer in the mean."""
    return np.mean([predict_one(p, hits, counts, window) for p in networks], axis=0)


def predict_one(p, hits, counts, window):
    out, ask = [], jax.jit(forward)
    for at in range(0, len(hits), 512):
        pick = np.minimum(np.arange(at, at + 512), len(hits) - 1)
        there = (np.arange(MOST) < counts[pick, None]).astype(np.float32)
        out.append(np.array(ask(p, hits[pick], there, window[pick]))[:len(hits) - at])
    return np.maximum(np.concatenate(out), 0.0)


def scaled(values, centre, scale):
    return np.clip((values - centre) / scale, -CLIP, CLIP).astype(np.float32)


def beside(evidence, counts, engine):
    """What the network gets of a window beside its hits."""
    return np.hstack([scaled(evidence, engine.centre, engine.scale), (counts[:, None] / MOST).astype(np.float32)])


def write(networks, centre, scale, folder, names, example, evidence, engine):
    """The engine's files: weights, and an example with its answers."""
    layers = [p[name] for p in networks for name in ("hit", "again", "pools", "set", "more", "out")]
    numbers = [centre, scale] + [part for layer in layers for part in (np.array(layer["w"]).T, layer["b"])]
    with open(os.path.join(folder, "set.bin"), "wb") as file:
        file.write(b"".join(np.asarray(part).astype("<f4").tobytes() for part in numbers))
    hits = scaled(inputs(names, example), centre, scale)
    count = np.array([len(hits)])
    padded = np.pad(hits, ((0, MOST - len(hits)), (0, 0)))[None]
    said = predict(networks, padded, count, beside(evidence[None], count, engine))[0]
    with open(os.path.join(folder, "set_example.bin"), "wb") as file:
        file.write(example.astype("<f8").tobytes() + said.astype("<f8").tobytes())


def main(arguments):
    out, without = (further.taken(arguments, name) for name in ("--out", "--without"))
    hits, counts, evidence, y, rows, example = read(arguments)
    there = np.arange(MOST) < counts[:, None]
    centre, scale = hits[there].mean(axis=0), hits[there].std(axis=0) + 1e-3
    hits = scaled(hits, centre, scale)
    engine = further.Engine(further.ENGINE)
    window = beside(evidence, counts, engine)
    weight, sources = further.weights(rows), np.array([further.source(row) for row in rows])
    for name in without:
        test = sources == name
        networks = fit(hits[~test], counts[~test], window[~test], y[~test], weight[~test])
        tested = [row for row, left in zip(rows, test) if left]
        said = first.ordered(predict(networks, hits[test], counts[test], window[test]))
        further.table(f"{name}, network", y[test], said, tested)
        # The trees have heard the source where they were not fitted without it as well.
        trees = first.answer(engine.raw(evidence[test]))[:, :len(first.HEADS)]
        further.table(f"{name}, with the trees", y[test], (said + trees) / 2, tested)
    if out:
        networks = fit(hits, counts, window, y, weight)
        names, _ = traces(arguments[0])
        write(networks, centre, scale, out[0], names, example[0], example[1], engine)


if __name__ == "__main__":
    main(sys.argv[1:])
