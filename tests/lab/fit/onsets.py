"""Fits the onset judge: python3 tests/lab/fit/onsets.py ROWS --out plugin/engine/src/parts/weights.rs

ROWS comes from `parts evidence`: little-endian f32, session, kind of part, time from the nearest
note (ms), evidence. Needs numpy and scikit-learn.
"""

import argparse

import numpy as np
from sklearn.neural_network import MLPClassifier

EVIDENCE = 136
KINDS = ["drums", "bass", "clean", "distorted", "vocals", "other"]
# A moment this near to a note (ms) is its start; one this far is not; between, neither.
NEAR, FAR = 1.0, 4.0
# Noise on the scaled evidence, standard deviation, drawn anew in each epoch: or the judge learns the
# kits that it was shown, and hears strokes in the tails of others.
NOISE = 0.3


def load(paths):
    rows = [np.fromfile(path, "<f4").reshape(-1, EVIDENCE + 3) for path in paths]
    for number, part in enumerate(rows):
        part[:, 0] += 1000 * number
    return np.concatenate(rows)


def main():
    parser = argparse.ArgumentParser()
    parser.add_argument("rows", nargs="+")
    parser.add_argument("--out")
    parser.add_argument("--hidden", type=int, default=32)
    parser.add_argument("--epochs", type=int, default=14)
    args = parser.parse_args()
    rows = load(args.rows)
    session, kind, late, x = rows[:, 0], rows[:, 1].astype(int), np.abs(rows[:, 2]), rows[:, 3:]
    # Voices and pads start softly: they may not pull the judge's ear for strokes.
    use = ((late <= NEAR) | (late >= FAR)) & (kind != 4)
    y = late <= NEAR
    held = session % 7 == 6
    mean, scale = x[use].mean(0), x[use].std(0) + 1e-3
    train = np.flatnonzero(use & ~held) if not args.out else np.flatnonzero(use)
    model = MLPClassifier(
        (args.hidden,), alpha=1e-3, batch_size=1024, learning_rate_init=2e-3, random_state=1
    )
    rng = np.random.default_rng(1)
    for epoch in range(args.epochs):
        rng.shuffle(train)
        if epoch == args.epochs * 2 // 3:
            model.learning_rate_init /= 5
            model._optimizer.learning_rate_init = model.learning_rate_init
        for part in np.array_split(train, 20):
            scaled = (x[part] - mean) / scale
            scaled += NOISE * rng.standard_normal(scaled.shape, dtype=np.float32)
            model.partial_fit(scaled, y[part], classes=[False, True])
    test = np.flatnonzero(use & held)
    odds = model.predict_proba((x[test] - mean) / scale)[:, 1]
    for number, name in enumerate(KINDS):
        own = kind[test] == number
        if own.any():
            hit = y[test] & own
            print(f"{name:10} found {np.mean(odds[hit] > 0.5):.3f}", end="")
            print(f"  false {np.mean(odds[own & ~y[test]] > 0.5):.5f}")
    if args.out:
        write(args.out, model, mean, scale)


def write(path, model, mean, scale):
    # The centre and scale of the evidence go into the first layer.
    first = model.coefs_[0] / scale[:, None]
    first_offset = model.intercepts_[0] - mean @ first
    hidden = first.shape[1]
    numbers = lambda row: ", ".join(f"{v:.6f}" for v in row)
    with open(path, "w") as out:
        out.write("//! Weights of the onset judge. Made by `tests/lab/fit/onsets.py`; do not edit.\n\n")
        out.write("use super::evidence::ONSET_EVIDENCE;\n\n/// Hidden units.\n")
        out.write(f"pub(super) const HIDDEN: usize = {hidden};\n")
        out.write("/// From evidence to hidden units, a row a piece of evidence.\n#[rustfmt::skip]\n")
        out.write("pub(super) static FIRST: [[f32; HIDDEN]; ONSET_EVIDENCE] = [\n")
        out.writelines(f"    [{numbers(row)}],\n" for row in first)
        out.write("];\n/// Offsets of the hidden units.\n#[rustfmt::skip]\n")
        out.write(f"pub(super) const FIRST_OFFSET: [f32; HIDDEN] = [{numbers(first_offset)}];\n")
        out.write("/// From hidden units to log odds.\n#[rustfmt::skip]\n")
        out.write(f"pub(super) const SECOND: [f32; HIDDEN] = [{numbers(model.coefs_[1][:, 0])}];\n")
        out.write("/// Offset of the log odds.\n")
        out.write(f"pub(super) const SECOND_OFFSET: f32 = {model.intercepts_[1][0]:.6f};\n")


main()
