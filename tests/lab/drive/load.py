"""Takes of build.py as rows of features and truths."""
import glob, json, sys, os, pickle
import numpy as np
from features import features
NAMES = ["w", "lo", "mid", "hi", "peak", "mean", "four", "sq"]


def lengths(row, strokes, bpm):
    """of each stroke, s, as written; a bar is 16 steps"""
    step = 15.0 / bpm
    written = []
    for n, c in enumerate(row):
        if c in "-.":
            continue
        end = n + 1
        while end < 16 and row[end] == "-":
            end += 1
        written.append((end - n) * step)
    return np.resize(written, len(strokes))


def own_contrast(w, strokes, length):
    """Attack over sustain of a stroke, dB, median over strokes: the loudest 10 ms of its first 40 ms
    over the mean from 60 to 190 ms, or to where the note or the next stroke ends it; of notes under
    100 ms over their second half."""
    ten = np.convolve(w, np.ones(10) / 10, "valid")
    at = np.round(strokes * 1000).astype(int)
    out = []
    for n, a in enumerate(at):
        nxt = at[n + 1] if n + 1 < len(at) else len(w)
        gap = min(nxt - a - 3, int(length[n] * 970))
        if gap < 40 or a + 200 > len(ten):
            continue
        attack = ten[max(0, a - 5): a + min(40, gap - 10)].max()
        frm = a + (60 if gap >= 100 else gap // 2)
        out.append(10 * np.log10(attack / max(w[frm:min(a + gap, a + 190)].mean(), attack * 1e-4)))
    return float(np.median(out)) if len(out) >= 8 else np.nan


def one(path):
    z = np.load(path); m = json.loads(str(z["meta"])); C = z["cells"]
    mono = C.ndim == 3
    ln = lengths(m["row"], z["strokes"], m["bpm"])
    kinds = [C] if mono else [C[0], C[1], None]
    rows = []
    for number, K in enumerate(kinds):
        if number == 1: continue
        cs = []
        for g in range(C.shape[-3]):
            if K is not None:
                c = {k: K[g, n] for n, k in enumerate(NAMES)}
                c["louder"] = np.ones(len(c["w"]), np.float32)
            else:
                a, b = C[0, g], C[1, g]
                c = {k: a[n] + b[n] for n, k in enumerate(NAMES)}
                c["peak"] = np.maximum(a[4], b[4])
                c["louder"] = np.maximum(a[0], b[0]) / np.maximum(a[0] + b[0], 1e-20)
            cs.append(c)
        own = [own_contrast(c["w"], z["strokes"], ln) for c in cs]
        for g, c in enumerate(cs):
            rows.append((features(c), dict(m, g=g, own=own[g], ref=own[0], lost=own[0] - own[g], double=K is None, set=os.path.basename(path) + "d" * (K is None))))
    return rows


def load(folders):
    out = []
    for folder in folders.split(","):
        cache = folder + "/cache.pkl"
        have = pickle.load(open(cache, "rb")) if os.path.exists(cache) else {}
        for p in sorted(glob.glob(folder + "/*.npz")):
            if p not in have:
                try: have[p] = one(p)
                except Exception as e: print(p, e)
        pickle.dump(have, open(cache, "wb"))
        out += [r for v in have.values() for r in v]
    return [r for r in out if np.isfinite(r[1]["own"]) and np.isfinite(r[1]["ref"])]
