#!/usr/bin/env python3
"""Takes through amplifiers at rising gains, as cells and truths: build.py OUT [SEEDS] [WORKER WORKERS].

One file a riff and amplifier: `cells` (take, gain, name, ms) of two takes, the times of the strokes,
s, and what it was made of. The first seed is FIRST of the environment, else 0."""
import os, sys, json
import numpy as np
import riffs, amps
from cells import cells

GAINS = [-30, -12, 0, 8, 16, 26, 40]
NAMES = ["w", "lo", "mid", "hi", "peak", "mean", "four", "sq"]
SOURCES = ["general", "timgm", "strings", "sampled"]


def main():
    out, seeds = sys.argv[1], int(sys.argv[2]) if len(sys.argv) > 2 else 1
    me, of = (int(sys.argv[3]), int(sys.argv[4])) if len(sys.argv) > 4 else (0, 1)
    first = int(os.environ.get("FIRST", 0))
    os.makedirs(out, exist_ok=True)
    jobs = [(seed, kind, row, source) for seed in range(first, first + seeds) for kind in riffs.RIFFS for row in riffs.RIFFS[kind] for source in SOURCES]
    np.random.default_rng(1).shuffle(jobs)
    for number, (seed, kind, row, source) in enumerate(jobs):
        if number % of != me:
            continue
        seed = int(seed)
        base = abs(hash_of((seed, row, source))) % (1 << 31)
        xs, strokes, bpm = riffs.take(source, row, base)
        rng = np.random.default_rng(base + 1)
        for name in rng.choice(list(amps.AMPS), 3, replace=False):
            path = "%s/%04d_%s.npz" % (out, number, name)
            if os.path.exists(path):
                continue
            r = amps.draw(rng)
            try:
                both = []
                for side, x in enumerate(xs):
                    both.append([cells(amps.play(str(name), x, g, dict(r, cab=r["cab"] + side))) for g in GAINS])
            except RuntimeError as e:
                print(path, e, flush=True)
                continue
            n = min(len(c["w"]) for side in both for c in side)
            kept = np.array([[[c[k][:n] for k in NAMES] for c in side] for side in both], np.float32)
            np.savez(path, cells=kept, strokes=strokes,
                     meta=json.dumps(dict(kind=kind, row=row, source=source, amp=str(name), bpm=bpm, **r)))


def hash_of(parts):
    import zlib
    return zlib.crc32(repr(parts).encode())


if __name__ == "__main__":
    main()
