"""What a take's cells say of its saturation; none depends on gain after the amplifier."""
import numpy as np

Q = np.quantile


def box(v, n):
    c = np.concatenate([[0.0], np.cumsum(v, dtype=np.float64)])
    return (c[n:] - c[:-n]) / n


def features(c):
    """c: dict of cells (w lo mid hi peak mean four sq), 1 ms each"""
    w = c["w"].astype(np.float64)
    f = {}
    p10 = box(w, 10)[::5]
    loud = Q(p10, .98)
    d10 = 10 * np.log10(np.maximum(p10, loud * 1e-4) / loud)
    on = d10 > -30
    lev = d10[on]
    most = d10[d10 > -40]
    s = np.sort(most)
    h, q = len(s) // 2, len(s) * 3 // 4
    f["spread"] = s[q:].mean() - s[h:q].mean()
    qs = {p: Q(lev, p / 100) for p in (5, 10, 25, 50, 75, 90, 95, 98)}
    f["q95_75"] = qs[95] - qs[75]
    f["q98_90"] = qs[98] - qs[90]
    f["q90_50"] = qs[90] - qs[50]
    f["q75_50"] = qs[75] - qs[50]
    f["q50_25"] = qs[50] - qs[25]
    f["q50_10"] = qs[50] - qs[10]
    f["q95_50"] = qs[95] - qs[50]
    f["power_mean"] = 10 * np.log10((10 ** (lev / 10)).mean()) - lev.mean()   # spread, no quantile
    # rises and falls of 20, 60 ms
    for k, n in ((20, 4), (60, 12)):
        a, b = d10[:-n], d10[n:]
        both = (np.maximum(a, b) > -20)
        d = (b - a)[both]
        f["rise%d_90" % k], f["rise%d_97" % k] = Q(d, .9), Q(d, .97)
        f["fall%d_10" % k], f["fall%d_25" % k], f["fall%d_50" % k] = -Q(d, .1), -Q(d, .25), -Q(d, .5)
        sl = np.abs(d)
        f["move%d_50" % k], f["move%d_80" % k] = Q(sl, .5), Q(sl, .8)
    # the same over 30 ms: chords beat within 10
    p30 = box(w, 30)[::5]
    d30 = 10 * np.log10(np.maximum(p30, loud * 1e-4) / loud)
    l30 = d30[d30 > -30]
    t = {p: Q(l30, p / 100) for p in (10, 25, 50, 75, 90, 95, 98)}
    f["t95_75"], f["t90_50"], f["t75_50"], f["t50_25"], f["t50_10"] = t[95] - t[75], t[90] - t[50], t[75] - t[50], t[50] - t[25], t[50] - t[10]
    f["t98_50"] = t[98] - t[50]
    for k, n in ((30, 6), (90, 18)):
        a, b = d30[:-n], d30[n:]
        d = (b - a)[np.maximum(a, b) > -20]
        f["trise%d_90" % k], f["trise%d_97" % k] = Q(d, .9), Q(d, .97)
        f["tfall%d_25" % k], f["tfall%d_50" % k], f["tmove%d_50" % k] = -Q(d, .25), -Q(d, .5), Q(np.abs(d), .5)
    # waveform within 20 and 50 ms
    sq, four, mean, peak = (c[k].astype(np.float64) for k in ("sq", "four", "mean", "peak"))
    for n in (20, 50):
        m = len(w) // n
        r = lambda v: v[: m * n].reshape(m, n)
        P = r(sq).mean(1)
        W = r(w).mean(1)
        ok = W > loud * 10 ** -2.0
        pk = r(peak).max(1) ** 2
        L = r(c["louder"].astype(np.float64) * c["w"]).sum(1) / np.maximum(r(w).sum(1), 1e-20)
        crest = 10 * np.log10(pk[ok] / (P[ok] * L[ok]))
        f["crest%d_10" % n], f["crest%d_50" % n], f["crest%d_90" % n] = Q(crest, [.1, .5, .9])
        kur = np.log(r(four).mean(1)[ok] / P[ok] ** 2)
        f["kurt%d_10" % n], f["kurt%d_50" % n], f["kurt%d_90" % n] = Q(kur, [.1, .5, .9])
        form = 20 * np.log10(np.sqrt(P[ok]) / r(mean).mean(1)[ok])
        f["form%d_10" % n], f["form%d_50" % n], f["form%d_90" % n] = Q(form, [.1, .5, .9])
        cell = 10 * np.log10(np.maximum(r(w).max(1)[ok] / W[ok], 1e-9))
        f["cell%d_50" % n], f["cell%d_10" % n], f["cell%d_90" % n] = Q(cell, .5), Q(cell, .1), Q(cell, .9)
        flat = 10 * np.log10(W[ok]) - (10 * np.log10(np.maximum(r(w)[ok], 1e-12 * loud))).mean(1)
        f["flat%d_50" % n], f["flat%d_10" % n] = Q(flat, .5), Q(flat, .1)
        lo_, mi_, hi_ = (10 * np.log10(np.maximum(r(c[k].astype(np.float64)).mean(1)[ok], 1e-6 * loud)) for k in ("lo", "mid", "hi"))
        wd = 10 * np.log10(W[ok])
        if n == 20:
            f["hm"], f["lm"] = np.median(hi_ - mi_), np.median(lo_ - mi_)
            f["hm_sd"], f["lm_sd"] = Q(hi_ - mi_, .85) - Q(hi_ - mi_, .15), Q(lo_ - mi_, .85) - Q(lo_ - mi_, .15)
            t = wd >= Q(wd, .8)
            b = wd <= Q(wd, .4)
            f["hm_tilt"] = np.median((hi_ - mi_)[t]) - np.median((hi_ - mi_)[b])
            f["lm_tilt"] = np.median((lo_ - mi_)[t]) - np.median((lo_ - mi_)[b])
            f["hi_range"], f["mid_range"], f["lo_range"] = (Q(v, .9) - Q(v, .5) for v in (hi_, mi_, lo_))
            f["hi_range2"], f["mid_range2"], f["lo_range2"] = (Q(v, .5) - Q(v, .1) for v in (hi_, mi_, lo_))
            f["crest_tilt"] = np.median(crest[t]) - np.median(crest[b])
            f["kurt_tilt"] = np.median(kur[t]) - np.median(kur[b])
            # short-term movement of each band, 20 ms apart
            nx = np.flatnonzero(ok[:-1] & ok[1:]); idx = np.cumsum(ok) - 1
            for k, v in (("hi", hi_), ("mid", mi_), ("lo", lo_)):
                d = np.abs(v[idx[nx + 1]] - v[idx[nx]])
                f["mv_" + k], f["mv8_" + k] = Q(d, .5), Q(d, .85)
    # floor: how deep the gaps between strokes go, 30 ms before each larger rise
    f["plays"] = on.mean()
    return f
