#!/usr/bin/env python3
"""Fits the reductions of the ceiling model on rows of every source, and writes their weights.

usage: further.py ROWS.csv... [--cross | --sources] [--test TEST.csv...] [--out DIRECTORY]

ROWS and TEST are made as for `ceiling.py`, which made the odds that the engine has, and its scales: both stay.
Trees with Huber's loss (Huber 1964) for the best estimates and the pinball loss for the ends of the ranges. A
file counts the same whatever its length, and so does a kind of songs whatever the number of its files, but for
the square root. Files of limiters that let go slowly count less; the traces NAME.csv that NAME.64.csv was made
of, beside it, tell which they are.

With --cross songs are left out in turn, with --sources whole sources (the columns `song` and `kit` tell
them); both print the error of whole files before and after. Needs numpy and catboost.
"""
import collections
import functools
import os
import re
import sys

import numpy as np
from catboost import CatBoostRegressor, Pool

import ceiling as first

ENGINE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "../../../plugin/engine/src/ceiling")
TREE = 4 + 4 * first.DEPTH + 2 * (1 << first.DEPTH)
# Trees of each head: low end, best and high end of the median, the same of the 90th percentile, the largest; and
# how much each says. Ours: many that say little err less on sources left out than half of them that say twice
# as much.
TREES = [600, 2400, 600, 600, 2400, 600, 900]
RATES = [0.07, 0.035, 0.07, 0.07, 0.035, 0.07, 0.07]
LOSSES = [loss.replace("RMSE", "Huber:delta=0.5") for loss in first.LOSSES]
DEEPEST_DB = 9.5
# Drums alone and mixes of sessions teach the reductions here too, as much as parts alone do. Ours.
SESSIONS, SESSIONS_WEIGHT = first.ODDS_ONLY, first.PARTS_WEIGHT


# Limiters are set to let go within tens of milliseconds where a mix is to be loud (common practice, no
# source); the drawn ones let go evenly from 12 to 500 ms on a logarithmic scale. A slow one holds hits down that
# never reach the ceiling, so that at like peaks more is gone: its files count this much. Ours.
HELD_WEIGHT = 0.25
# The top of a file's peaks, and how near it a hit is at the ceiling, dB: as in `thresholds/ceiling_set.rs`.
TOP, NEAR_DB = 0.97, 0.3
# Hits so far under the top never reached the ceiling, dB.
UNDER_DB = 1.0
# They are held down where more than that many dB, and that share of what hits at the ceiling lose, is gone.
HELD_DB, HELD_SHARE, HELD_HITS = 0.35, 0.2, 5
# Soft curves lower them too, however soon they let go, and so does what works on the drums alone.
NOT_HELD = ("soft", "tanh-clip", "cubic-clip", "soft-then-limit", "drum-bus", "drum-bus-clip")


class Engine:
    """The model as the engine has it."""

    def __init__(self, folder):
        with open(os.path.join(folder, "weights.rs")) as file:
            text = file.read()
        heads = re.findall(r"Head \{ trees: (\d+), step: ([-\d.e]+), offset: ([-\d.]+) \}", text)
        with open(os.path.join(folder, "trees.bin"), "rb") as file:
            data = file.read()
        self.heads, at = [], 0
        for count, step, offset in heads:
            size = int(count) * TREE
            self.heads.append((data[at:at + size], float(step), float(offset)))
            at += size

        def numbers(name):
            inside = re.search(r"const " + name + r": [^=]*= \[(.*?)\];\n", text, re.S).group(1)
            return np.array([float(v) for v in re.findall(r"-?\d+\.\d+", inside)])

        self.centre, self.scale = numbers("CENTRE"), numbers("SCALE")

    def trees(self, head, x):
        """What the trees of one head say."""
        data, step, offset = self.heads[head]
        x = x.astype(np.float32)
        sums = np.zeros(len(x))
        for at in range(0, len(data), TREE):
            fields = np.frombuffer(data, "u1", first.DEPTH, at)
            borders = np.frombuffer(data, "<f4", first.DEPTH, at + first.DEPTH)
            leaves = np.frombuffer(data, "<i2", 1 << first.DEPTH, at + 5 * first.DEPTH)
            place = sum((x[:, f] > b).astype(int) << bit for bit, (f, b) in enumerate(zip(fields, borders)))
            sums += leaves[place]
        return sums * step + offset

    def raw(self, x):
        return np.stack([self.trees(head, x) for head in range(len(self.heads))], axis=1)

    def replaced(self, models):
        """The same with these trees, and its own for the odds."""
        replaced = Engine.__new__(Engine)
        replaced.heads = [(data, step, bias) for data, _, step, bias in map(first.packed, models)]
        replaced.heads += self.heads[len(models):]
        replaced.centre, replaced.scale = self.centre, self.scale
        return replaced


def source(row):
    """What kind of song a row is of."""
    song = row["song"].split("-")[0]
    if row["kit"] == "scores":
        return "scores"
    if song in ("second", "parts", "session", "mixes", "record"):
        return song
    return "synthetic" if row["kit"].startswith("synth") else "drawn"


def traces(path):
    """Names of the columns of a file of traces, and the rows of every file in it, as text."""
    files = collections.OrderedDict()
    with open(path) as file:
        names = file.readline().strip().split(",")
        for line in file:
            cells = line.rstrip("\n").split(",")
            if len(cells) == len(names):
                files.setdefault(cells[0], []).append(cells)
    return names, files


@functools.cache
def held(path):
    """The files of traces of which the hits under the ceiling are held down, by their numbers."""
    names, files = traces(path)
    peak, gone, by = (names.index(name) for name in ("peak_dbtp", "reduction_db", "processor"))
    found = set()
    for number, hits in files.items():
        peaks, lost = np.array([(float(hit[peak]), float(hit[gone])) for hit in hits]).T
        top = np.quantile(peaks, TOP)
        under = lost[peaks < top - UNDER_DB]
        least = max(HELD_DB, HELD_SHARE * np.median(lost[peaks >= top - NEAR_DB]))
        if hits[0][by] not in NOT_HELD and len(under) >= HELD_HITS and np.median(under) > least:
            found.add(number)
    return found


def weights(rows):
    files = [row["path"].split(".")[0] + row["file"] for row in rows]
    of_file = collections.Counter(files)
    kinds = {name: source(row) for name, row in zip(files, rows)}
    of_kind = collections.Counter(kinds.values())
    balance = np.array([1.0 / of_file[name] / np.sqrt(of_kind[kinds[name]]) for name in files])
    less = np.where([row["song"].startswith(SESSIONS) for row in rows], SESSIONS_WEIGHT, 1.0)
    slow = [row["file"] in held(row["path"].rsplit(".", 2)[0] + ".csv") for row in rows]
    return first.weights(rows) * less * np.where(slow, HELD_WEIGHT, 1.0) * balance / balance.mean()


def grow(x, y, rows, seed=0):
    """Trees of every head but the odds."""
    weight, models = weights(rows), []
    for head, (loss, count, rate) in enumerate(zip(LOSSES, TREES, RATES)):
        model = CatBoostRegressor(
            loss_function=loss, iterations=count, learning_rate=rate, depth=first.DEPTH, l2_leaf_reg=20,
            rsm=0.3, subsample=0.5, bootstrap_type="Bernoulli", border_count=64, random_seed=seed,
            thread_count=2, verbose=0, allow_writing_files=False)
        models.append(model.fit(Pool(x.astype(np.float32), y[:, head], weight=weight)))
    return models


def table(title, y, out, rows, only=None):
    """Errors of whole files: means of their whole windows."""
    whole = np.array([".64." in row["path"] for row in rows])
    if only is not None:
        whole &= only
    files = collections.defaultdict(list)
    for i in np.where(whole)[0]:
        files[rows[i]["path"] + rows[i]["file"]].append(i)
    if not files:
        return
    truth = np.array([y[k].mean(axis=0) for k in files.values()])
    said = np.array([out[k].mean(axis=0) for k in files.values()])
    none = np.array([rows[k[0]]["processor"] == "none" for k in files.values()])
    limited = ~none & (truth[:, 1] <= DEEPEST_DB)
    if limited.any():
        error = said[limited, :truth.shape[1]] - truth[limited]
        held = ((truth[limited, 1] >= said[limited, 0] - 0.05) & (truth[limited, 1] <= said[limited, 2] + 0.05))
        print(f"{title}: {limited.sum()} limited files, median {np.median(abs(error[:, 1])):.2f} /"
              f" {np.percentile(abs(error[:, 1]), 90):.2f} dB, mean {abs(error[:, 1]).mean():.2f}; 90th percentile"
              f" over hits {np.median(abs(error[:, 4])):.2f} / {np.percentile(abs(error[:, 4]), 90):.2f};"
              f" quantiles hold {100 * held.mean():.0f} %")
        for low, high in ((0, 0.3), (0.3, 1), (1, 3), (3, 6), (6, DEEPEST_DB)):
            of = (truth[limited, 1] >= low) & (truth[limited, 1] < high)
            if of.any():
                print(f"    {low} to {high} dB: {of.sum()} files, bias {error[of, 1].mean():+.2f}, 90th {error[of, 4].mean():+.2f}")
    if none.any():
        print(f"    {title}: {none.sum()} unlimited files read {np.median(said[none, 1]):.2f}, 90th percentile of files"
              f" {np.percentile(said[none, 1], 90):.2f}")


def left_out(x, y, rows, said, groups):
    out = first.answer(said)
    for group in sorted(set(groups)):
        of = groups == group
        seen = [row for row, gone in zip(rows, of) if not gone]
        out[of, :len(first.HEADS)] = first.ordered(first.raw(grow(x[~of], y[~of], seen), x[of]))
    return out


def taken(arguments, name):
    """What follows an option up to the end of the arguments, which lose it; nothing where it is missing."""
    if name not in arguments:
        return []
    at = arguments.index(name)
    values = arguments[at + 1:]
    del arguments[at:]
    return values


def main(arguments):
    out = taken(arguments, "--out")
    tests = taken(arguments, "--test")
    crossed, by_source = "--cross" in arguments, "--sources" in arguments
    _, x, y, rows = first.read([a for a in arguments if not a.startswith("--")])
    engine = Engine(ENGINE)
    said = engine.raw(x)
    sources = np.array([source(row) for row in rows])
    if crossed or by_source:
        songs = np.array([row["song"] for row in rows])
        order = np.random.default_rng(1).permutation(sorted(set(songs)))
        fold = {song: f"{at % 4}" for at, song in enumerate(order)}
        groups = sources if by_source else np.array([fold[song] for song in songs])
        before, after = first.answer(said), left_out(x, y, rows, said, groups)
        for name in sorted(set(sources)) + ["all"]:
            only = sources == name if name != "all" else None
            table(f"{name}, before", y, before, rows, only)
            table(f"{name}, after", y, after, rows, only)
    if not (tests or out):
        return
    grown = engine.replaced(grow(x, y, rows))
    if tests:
        _, xt, yt, rt = first.read(tests)
        said_t = engine.raw(xt)
        table("test, before", yt, first.answer(said_t), rt)
        table("test, after", yt, first.answer(grown.raw(xt)), rt)
    if out:
        write(grown, x[np.argmax(y[:, 1])], out[0])


def write(engine, example, folder):
    """The engine's files, in place of those that are there: the rest of `weights.rs` stays."""
    out = first.answer(engine.raw(example[None]))[0]
    heads = "\n".join(f"    Head {{ trees: {len(data) // TREE}, step: {step:.9e}, offset: {offset:.6f} }},"
                      for data, step, offset in engine.heads)

    def flat(values):
        words = [f"{value:.6f}" for value in values]
        return "\n".join("    " + ", ".join(words[i:i + 8]) + "," for i in range(0, len(words), 8))

    path = os.path.join(folder, "weights.rs")
    with open(path) as file:
        text = file.read()
    for name, inside in (("HEADS", heads), ("EXAMPLE", flat(example)), ("EXAMPLE_OUT", flat(out))):
        text, count = re.subn(r"(const " + name + r": \[[^=]*= \[\n).*?(\n\];)",
                              lambda found: found.group(1) + inside + found.group(2), text, flags=re.S)
        assert count == 1, f"{path}: expected one {name}, found {count}"
    with open(os.path.join(folder, "trees.bin"), "wb") as file:
        file.write(b"".join(data for data, _, _ in engine.heads))
    with open(path, "w") as file:
        file.write(text)


if __name__ == "__main__":
    main(sys.argv[1:])
