"""Amplifiers for the drive lab: saturators of our own and those of Debian's guitarix-lv2,
calf-plugins and swh/zam packages, run by ffmpeg's lv2 filter; then a loudspeaker of our own.
`gain_db` is the gain ahead of the saturator; the take arrives at -20 dBFS RMS while it plays."""
import subprocess
import numpy as np
from scipy.signal import butter, sosfilt, lfilter, iirpeak

SR = 48000
GX = "http://guitarix.sourceforge.net/plugins/"


def hp(x, f, n=1):
    return sosfilt(butter(n, f, "high", fs=SR, output="sos"), x)


def lp(x, f, n=1):
    return sosfilt(butter(n, f, fs=SR, output="sos"), x)


def over(fn, x):
    from scipy.signal import resample_poly
    return resample_poly(fn(resample_poly(x, 2, 1)), 1, 2)


def lv2(uri, x, **controls):
    c = "|".join("%s=%g" % kv for kv in controls.items())
    af = "lv2=p='%s'%s" % (uri.replace(":", "\\:"), (":c=" + c) if c else "")
    pad = np.concatenate([np.zeros(SR // 2), x])
    q = subprocess.run(["ffmpeg", "-v", "error", "-f", "f32le", "-ar", str(SR), "-ac", "1", "-i", "-", "-af", af, "-f", "f32le", "-ac", "1", "-ar", str(SR), "-"],
                       input=pad.astype(np.float32).tobytes(), capture_output=True)
    y = np.frombuffer(q.stdout[: len(q.stdout) // 4 * 4], np.float32).astype(np.float64)
    if len(y) < len(pad):
        raise RuntimeError("%s: %s" % (uri, q.stderr.decode()[-300:]))
    return y[SR // 2: len(pad)]


def sox(x, *effect):
    q = subprocess.run(["sox", "-t", "f32", "-r", str(SR), "-c", "1", "-", "-t", "f32", "-", *effect], input=x.astype(np.float32).tobytes(), capture_output=True)
    y = np.frombuffer(q.stdout[: len(q.stdout) // 4 * 4], np.float32).astype(np.float64)
    return y[: len(x)]


db = lambda v: 10 ** (v / 20)


def tanh(x, g, r):
    return over(np.tanh, hp(x, r["tight"]) * db(g + 12))


def hard(x, g, r):
    return over(lambda v: np.clip(v, -1, .8), hp(x, r["tight"]) * db(g + 12))


def twice(x, g, r):
    y = over(lambda v: np.tanh(v + .3) - np.tanh(.3), hp(x, r["tight"]) * db(.5 * g + 6))
    return over(lambda v: v / (1 + np.abs(v) ** 1.5) ** (1 / 1.5), lp(hp(y, 120), 8000) * db(.5 * g + 6))


def slow(x, g, r):
    """a saturator whose supply sags"""
    y = hp(x, r["tight"]) * db(g + 12)
    e = lfilter([.0004], [1, -.9996], np.minimum(np.abs(y), 4.0))
    return over(np.tanh, y / (1 + .4 * e))


def diode(x, g, r):
    y = hp(x, 720) * db(g + 14)
    return over(lambda v: np.arcsinh(4 * v) / 4, y) + x * db(6 + min(g, 0))


def folded(x, g, r):
    """cubic soft clip, then clean blended in"""
    y = over(lambda v: np.where(np.abs(v) < 1, 1.5 * v - .5 * v ** 3, np.sign(v)), hp(x, r["tight"]) * db(g + 10))
    return y


def gx(name, pad_db=0.0, **c):
    return lambda x, g, r: lv2(GX + name, x * db(g + pad_db), **c)


AMPS = {
    "tanh": tanh, "hard": hard, "twice": twice, "slow": slow, "folded": folded, "diode": diode,
    "metal": lambda x, g, r: lv2(GX + "gxmetal_head#metal_head", x * db(g), DRIVE=.3),
    "bigchump": lambda x, g, r: lv2(GX + "gx_redeye#bigchump", x * db(g), Gain=.5),
    "ds": lambda x, g, r: lv2(GX + "gx_bossds1_#_bossds1_", x * db(g), DRIVE=.5),
    "scream": lambda x, g, r: lv2(GX + "gx_scream_#_scream_", x * db(g), SCREAM=.5),
    "sox": lambda x, g, r: sox(x * db(g), "overdrive", "12", "20"),
}
OURS = ["tanh", "hard", "twice", "slow", "folded", "diode"]


def draw(rng):
    """what stays the same over the gains of one take"""
    return dict(tight=float(rng.choice([60, 120, 300, 600])), model=int(rng.integers(0, 18)),
                cab=int(rng.integers(0, 1 << 30)), gate=bool(rng.random() < .3), gate_db=float(rng.uniform(-55, -42)))


def cabinet(x, seed):
    rng = np.random.default_rng(seed)
    y = hp(x, rng.uniform(65, 110), 2)
    y = lp(y, rng.uniform(3800, 6500), 4)
    for f, q, gain in ((rng.uniform(95, 160), 2.0, rng.uniform(0, .8)), (rng.uniform(1800, 3600), 1.2, rng.uniform(.2, 1.5)), (rng.uniform(300, 600), 1.5, rng.uniform(-.5, .1))):
        b, a = iirpeak(f, q, fs=SR)
        y = y + gain * lfilter(b, a, y)
    n = int(rng.uniform(.003, .02) * SR)
    room = rng.normal(0, 1, n) * np.exp(-np.arange(n) / (n / 5)) * rng.uniform(0, .25) / np.sqrt(n / 5)
    room[0] = 1
    return np.convolve(y, room)[: len(y)]


def gate(x, limit_db):
    e = lfilter([1 - np.exp(-1 / (.004 * SR))], [1, -np.exp(-1 / (.004 * SR))], x ** 2)
    opened = (e > .01 * 10 ** (limit_db / 10)).astype(float)
    a = np.exp(-1 / (.008 * SR))
    hold = np.maximum.accumulate(np.where(opened > 0, np.arange(len(x)), -1))
    still = (np.arange(len(x)) - hold < .03 * SR).astype(float)
    return x * lfilter([1 - a], [1, -a], still)


def play(name, x, gain_db, r):
    if r["gate"]:
        x = gate(x, r["gate_db"])
    y = AMPS[name](x, gain_db, r)
    y = cabinet(y - np.mean(y), r["cab"])
    return y / (np.sqrt((y ** 2).mean()) + 1e-12) * .1
