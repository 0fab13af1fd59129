"""Clean guitar takes for the drive lab: riffs of every kind, played by sound fonts (Debian
musescore-general-soundfont, timgm6mb-soundfont), by Debian's sonic-pi-samples and by plucked
strings of our own (K. Karplus, A. Strong 1983; D. Jaffe, J. Smith 1983).

A riff is one bar in sixteenths: x power chord, X full chord, m palm-muted power chord, s single
note, n palm-muted single note, t picked over and over on one note, '-' hold, '.' stop."""
import os, struct, subprocess, tempfile
import numpy as np
import soundfile as sf
from scipy.signal import lfilter, resample_poly

SR = 48000
RIFFS = {
    "ring": ["x---------------", "X-------X-------", "x---x---X---x---", "x-x-x-x-x-x-x-x-", "x--x--x---x-x---",
             "x---....x---x-..", "X---X-X---X-X-X-", "x.x...x.x.x...x."],
    "muted": ["mmmmmmmmmmmmmmmm", "m.m.m.m.m.m.m.m.", "mm.mm.mm.mm.mmmm", "n-n-nnn-n-n-nnn-", "m-m-m-m-m-m-m-m-", "m.mmm.mmm.mmm.m."],
    "trem": ["tttttttttttttttt", "t-t-t-t-t-t-t-t-", "tttttttttttttt..", "ttttttttXXXXXXXX"],
    "line": ["s-s-s---s-s-s-ss", "s---s---s---s---", "ssssssssssssssss", "s--s--s-s--ss-s-", "s.s...s.s.ss..s."],
    "mixed": ["m.mmm.mmm.mmx---", "m.m.x-----m.x---", "mm.mm.mm.mm.x---", "x--mx-mmx--mx-mm", "n-nns-n-nnn-s-s-"],
}
FONTS = {"general": "/usr/share/sounds/sf3/MuseScore_General_Full.sf3", "timgm": "/usr/share/sounds/sf2/TimGM6mb.sf2"}
SCALE = [0, 3, 5, 7, 10, 12]


def score(row, rng, seconds=6.5):
    """notes: (time, duration, [pitches], velocity 0..1, muted); strokes: times"""
    bpm = rng.uniform(84, 190)
    if row.count("t") + row.count("s") > 12 or row.count("m") > 12:
        bpm = rng.uniform(80, 165)
    step = 15.0 / bpm
    key = 40 + int(rng.integers(-2, 6))
    prog = [0, *rng.choice([0, 3, 5, -2, 1, 7], 3)]
    jit, dyn = rng.uniform(0, .004), rng.uniform(.03, .16)
    notes, bars = [], max(2, int(seconds / (16 * step)))
    for bar in range(bars):
        root = key + int(prog[bar % 4])
        tone = root + 12 + int(rng.choice(SCALE))
        for n, c in enumerate(row):
            if c in "-.":
                continue
            t = .1 + (bar * 16 + n) * step + rng.normal(0, jit)
            end = n + 1
            while end < 16 and row[end] == "-":
                end += 1
            d = (end - n) * step
            if c in "st" and (c == "s" or n % 8 == 0):
                tone = root + 12 + int(rng.choice(SCALE))
            pitches = dict(x=[root, root + 7, root + 12], X=[root, root + 7, root + 12, root + 16 - int(rng.integers(0, 2)), root + 19],
                           m=[root, root + 7], n=[root]).get(c, [tone])
            accent = 1.0 if n % 4 == 0 else .9
            notes.append((max(0.0, t), d, pitches, float(np.clip(.8 * accent * (1 + rng.normal(0, dyn)), .3, 1.0)), c in "mn"))
    return notes, bpm


def varlen(n):
    out = [n & 127]
    while n := n >> 7:
        out.append(128 | n & 127)
    return bytes(out[::-1])


def font(path, notes, rng):
    clean, muted = int(rng.choice([26, 27, 27])), 28
    ev = [(0, bytes([0xC0, clean])), (0, bytes([0xC1, muted]))]
    for t, d, pitches, v, m in notes:
        for k, p in enumerate(pitches):
            at = t + k * abs(rng.normal(.0015, .0007))
            ch, vel = int(m), int(np.clip(v * 115, 1, 127))
            ev.append((int(at * 1000), bytes([0x90 | ch, p, vel])))
            ev.append((int((at + max(.03, (.9 if m else .985) * d)) * 1000), bytes([0x80 | ch, p, 0])))
    ev.sort(key=lambda e: e[0])
    track, last = b"\0\xff\x51\x03" + (1_000_000).to_bytes(3, "big"), 0
    for t, b in ev:
        track += varlen(t - last) + b
        last = t
    track += b"\0\xff\x2f\0"
    with tempfile.TemporaryDirectory() as d:
        with open(d + "/x.mid", "wb") as f:
            f.write(b"MThd" + struct.pack(">IHHH", 6, 0, 1, 1000) + b"MTrk" + struct.pack(">I", len(track)) + track)
        subprocess.run(["fluidsynth", "-ni", "-q", "-o", "synth.dynamic-sample-loading=1", "-R", "0", "-C", "0", "-g", "0.6", "-r", str(SR), "-F", d + "/x.wav", path, d + "/x.mid"],
                       check=True, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
        x, _ = sf.read(d + "/x.wav")
    return x.mean(1)


def pluck(pitch, seconds, muted, rng, voice):
    f = 440 * 2 ** ((pitch - 69) / 12)
    n, period = int(seconds * SR), SR / f
    whole = int(period - .5 - voice["damp"])
    frac = period - whole - .5
    burst = rng.normal(0, 1, int(period) + 1)
    burst = lfilter([1 - voice["soft"]], [1, -voice["soft"]], burst)
    x = np.zeros(n)
    x[: len(burst)] = burst[:n]
    pos = max(1, int(voice["pick"] * period))
    x[pos:] -= .9 * x[:-pos]
    t60 = rng.uniform(.12, .3) if muted else voice["t60"] * (110 / f) ** .4
    g = 10 ** (-3 * period / SR / t60)
    s = .5 if not muted else .5 + .0
    a = np.zeros(whole + 3)
    a[0] = 1
    low = np.array([1 - voice["damp"], voice["damp"]])
    lin = np.array([1 - frac, frac]) if 0 <= frac <= 1 else np.array([1.0, 0])
    a[whole: whole + 3] -= g * np.convolve(low, lin)
    y = lfilter([1.0], a, x)
    if muted:
        y = lfilter([.25], [1, -.75], y)
    pos = max(1, int(voice["pickup"] * period))
    y[pos:] -= .8 * y[:-pos].copy()
    y[:96] *= np.linspace(0, 1, 96) ** .5
    return y / (np.sqrt((y[: SR // 20] ** 2).mean()) + 1e-9)


def strings(notes, rng):
    voice = dict(damp=rng.uniform(.15, .45), soft=rng.uniform(.2, .75), pick=rng.uniform(.08, .25), pickup=rng.uniform(.08, .3), t60=rng.uniform(2.5, 7))
    total = int((notes[-1][0] + notes[-1][1] + .3) * SR)
    out, cache = np.zeros(total), {}
    for n, (t, d, pitches, v, m) in enumerate(notes):
        for k, p in enumerate(pitches):
            key = (p, m, int(rng.integers(0, 3)))
            if key not in cache:
                cache[key] = pluck(p, .7 if m else 2.6, m, rng, voice)
            at = int((t + k * abs(rng.normal(.0015, .0007))) * SR)
            y = cache[key]
            length = min(len(y), int((min(.6, d) if m else d) * SR), total - at)
            if length < 100:
                continue
            y = y[:length].copy() * v
            fade = min(length, int(.006 * SR))
            y[-fade:] *= np.linspace(1, 0, fade)
            out[at: at + length] += y * (.8 if k else 1)
    return out


_samples = {}


def sampled(notes, rng):
    """the fifths of sonic-pi-samples, repitched; palms shorten them"""
    if not _samples:
        x, sr = sf.read("/usr/share/sonic-pi/samples/guit_e_fifths.flac")
        x = resample_poly(x.mean(1) if x.ndim > 1 else x, SR, sr) if sr != SR else (x.mean(1) if x.ndim > 1 else x)
        e = np.convolve(x ** 2, np.ones(240) / 240, "same")
        _samples["x"] = x[max(0, int(np.argmax(e > .05 * e.max())) - 240):]
    total = int((notes[-1][0] + notes[-1][1] + .3) * SR)
    out = np.zeros(total)
    for t, d, pitches, v, m in notes:
        ratio = 2 ** ((pitches[0] - 40) / 12)
        at = int(t * SR)
        length = min(int(d * SR), total - at)
        src = np.arange(length) * ratio
        y = np.interp(src, np.arange(len(_samples["x"])), _samples["x"], right=0.0) * v
        if m:
            y *= np.exp(-np.arange(length) / (.05 * SR))
            y = lfilter([.3], [1, -.7], y)
        fade = min(length, int(.006 * SR))
        y[-fade:] *= np.linspace(1, 0, fade)
        out[at: at + length] += y
    return out


def again(notes, rng):
    """The same riff played once more, a little otherwise."""
    return [(max(0.0, t + rng.normal(0, .004)), d, p, float(np.clip(v * (1 + rng.normal(0, .06)), .3, 1)), m) for t, d, p, v, m in notes]


def take(source, row, seed):
    """Two clean takes of a riff: samples at 48 kHz, the times of the first one's strokes, s, tempo."""
    rng = np.random.default_rng(seed)
    notes, bpm = score(row, rng)
    play = dict(strings=strings, sampled=sampled).get(source, lambda n, r: font(FONTS[source], n, r))
    takes = []
    for performance in (notes, again(notes, rng)):
        x = play(performance, rng)
        active = np.abs(x) > 1e-3 * np.abs(x).max()
        x = x / np.sqrt((x[active] ** 2).mean()) * .1
        takes.append(x + rng.normal(0, .1 * 10 ** (rng.uniform(-85, -60) / 20), len(x)))
    return takes, np.array([n[0] for n in notes]), bpm
