#!/usr/bin/env python3
"""What gain costs the hits of a mix, and how well the guitar's own cells tell it: hits.py FOLDER.
Drums of timgm6mb-soundfont are laid under the takes, powers added up; contrast as the engine has it."""
import sys, glob, json, subprocess, tempfile, struct
import numpy as np
import soundfile as sf
from cells import cells
from riffs import varlen, SR, FONTS
from load import lengths, own_contrast


def drums(bpm, seconds, rng):
    step = 15.0 / bpm
    kick = rng.choice(["x.....x...x.....", "x...x...x...x...", "x.x...x.x.......", "x.xxx.xxx.xxx.xx"])
    snare = rng.choice(["....x.......x...", "........x.......", "..x...x...x...x."])
    ev, hits = [], []
    n = int((seconds - .3) / step)
    for k in range(n):
        t = .1 + k * step
        for row, p, v in ((kick, 36, 115), (snare, 38, 118)):
            if row[k % 16] == "x":
                ev.append((int(t * 1000), p, int(v * rng.uniform(.85, 1.0)))); hits.append(t)
        if k % 2 == 0:
            ev.append((int(t * 1000), 42, int(rng.uniform(55, 85))))
    track, last = b"\0\xff\x51\x03" + (1_000_000).to_bytes(3, "big"), 0
    for t, p, v in sorted(ev):
        track += varlen(t - last) + bytes([0x99, p, v]); last = t
    track += varlen(400) + b"\x99\x24\x00\0\xff\x2f\0"
    with tempfile.TemporaryDirectory() as d:
        open(d + "/x.mid", "wb").write(b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(track)) + track)
        subprocess.run(["fluidsynth", "-ni", "-q", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(SR), "-F", d + "/x.wav", FONTS["timgm"], d + "/x.mid"], check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        x, _ = sf.read(d + "/x.wav")
    return cells(x.mean(1))["w"], np.unique(np.round(np.array(sorted(hits)) * 1000).astype(int))


def contrast(w, hits):
    """surround.rs: loudest 10 ms of 30 over 400 ms ahead and 80 to 250 ms behind, other hits' first 80 ms left out"""
    ten = np.convolve(w, np.ones(10) / 10, "valid")
    free = np.ones(len(w), bool)
    for h in hits: free[max(0, h - 2):h + 80] = False
    out = []
    for n, h in enumerate(hits):
        nxt = hits[n + 1] if n + 1 < len(hits) else len(w)
        a = np.arange(max(0, h - 400), h - 2); b = np.arange(h + 80, min(h + 250, nxt - 3, len(w)))
        bed = np.concatenate([a[free[a]], b])
        if h < 400 or h + 260 > len(w): continue
        if len(bed) < 30: bed = np.concatenate([a, np.arange(h + 80, min(h + 250, len(w)))])
        out.append(10 * np.log10(ten[h:h + 21].max() / w[bed].mean()))
    return np.array(out)


def restored(power, kept, most=5.0):
    """as `restored` of plugin/engine/src/parts/drive.rs"""
    top = np.quantile(power[power > 1e-4 * power.max()], .95)
    y = power * np.minimum(power / top, 1) ** (min(most, 1 / kept) - 1)
    return y * power.mean() / y.mean()


def main():
    paths = sorted(glob.glob(sys.argv[1] + "/[0-9]*.npz"))
    rng = np.random.default_rng(1)
    errors, blurred = [], []
    for p in rng.permutation(paths)[:150]:
        z = np.load(p)
        m, C = json.loads(str(z["meta"])), z["cells"]
        W = (C[:, 0] if C.ndim == 3 else C[:, :, 0].sum(0)).astype(float)
        w, hits = drums(m["bpm"], W.shape[1] / 1000, rng)
        n = min(W.shape[1], len(w))
        hits, ln = hits[hits + 260 < n], lengths(m["row"], z["strokes"], m["bpm"])
        own = [own_contrast(v[:n], z["strokes"], ln) for v in W]
        guitars = [v[:n] / v[:n].mean() * 10 ** (rng.uniform(-6, 3) / 10) for v in W[:1]]
        guitars += [v[:n] / v[:n].mean() * guitars[0].mean() for v in W[1:]]
        drum = w[:n] / w[:n].mean()
        clean = contrast(drum + guitars[0], hits)
        if len(clean) < 8 or not np.isfinite(own).all():
            continue
        for g in range(2, len(W)):
            here = contrast(drum + guitars[g], hits)
            kept = float(np.clip(own[g] / max(own[0], .5), .1, 1))
            for errs, k in ((errors, kept), (blurred, float(np.clip(kept + rng.normal(0, .19), .1, 1)))):
                back = contrast(drum + restored(guitars[g], k), hits) - here
                errs.append(back.mean() - np.median(clean - here))
    for name, e in (("true share", errors), ("share off by 0.19", blurred)):
        print("%s: %d mixes, median error %.2f dB, 90th percentile %.2f" % (name, len(e), np.median(np.abs(e)), np.quantile(np.abs(e), .9)))


if __name__ == "__main__":
    main()
