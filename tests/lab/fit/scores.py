#!/usr/bin/env python3
"""Renders scores that people wrote to mixes, for the fit of the ceiling.

usage: scores.py FOLDER OUT [TIMES]

FOLDER holds General MIDI files and wads with MIDI lumps (Debian: freedoom, openttd-openmsx,
planetblupi-music-midi). Each that has drums is played TIMES times (2) by fluidsynth through sound fonts of
Debian's fluid-soundfont-gm, musescore-general-soundfont-lossless, timgm6mb-soundfont and avldrums.lv2-soundfont:
kick, snare, toms, cymbals, basses, guitars and the rest apart, each through a font, and at a level, of its
own. Distorted guitars go through an amplifier of ours in half of the cases, as two takes a few
milliseconds apart; drums get a room and more or less attack. No limiter sits behind them: 32-bit float,
48 kHz, the largest sample at -1 dBFS. Needs mido, numpy and scipy.
"""
import io
import os
import random
import struct
import subprocess
import sys
import tempfile
import warnings

import mido
import numpy as np
from scipy.io import wavfile
from scipy.signal import butter, fftconvolve, lfilter, resample_poly, sosfilt

RATE, SECONDS = 48_000, 45.0
FONTS = {name: "/usr/share/sounds/" + path for name, path in {
    "fluid": "sf2/FluidR3_GM.sf2", "general": "sf2/MuseScore_General_Full.sf2", "tim": "sf2/TimGM6mb.sf2",
    "pearl": "sf2/Black_Pearl_4_LV2.sf2", "zeppelin": "sf2/Red_Zeppelin_4_LV2.sf2"}.items()}
WHOLE = ("fluid", "general", "tim")
# Drum kits of the fonts by program: standard, room, power; the others have one kit each.
KITS = [(font, program) for font in WHOLE for program in (0, 8, 16)] + [("pearl", 0), ("zeppelin", 0)]
DRUMS, CLEAN, DISTORTED = 9, 27, (29, 30, 31)
STROKES = {"kick": (35, 36), "snare": (37, 38, 39, 40), "toms": (41, 43, 45, 47, 48, 50)}
# Level of each group against the kick and snare, dB: mean, and how much it differs (one sigma). Ours.
LEVELS = {"kick": (0.0, 2.5), "snare": (0.0, 2.5), "toms": (0.0, 2.5), "cymbals": (-9.0, 3.0),
          "bass": (-3.0, 3.0), "guitars": (-3.0, 3.5), "rest": (-7.0, 3.0)}
LEAST_STROKES = 60


def scores(folder):
    """Name and bytes of every score below a folder; the same bytes once."""
    seen = set()
    for at, _, names in sorted(os.walk(folder)):
        for name in sorted(names):
            if not os.path.isfile(os.path.join(at, name)):
                continue
            with open(os.path.join(at, name), "rb") as file:
                data = file.read()
            if name.lower().endswith(".mid"):
                found = [(name[:-4], data)]
            elif data[1:4] == b"WAD":
                count, table = struct.unpack("<ii", data[4:12])
                lumps = [struct.unpack("<ii8s", data[table + 16 * n:table + 16 * n + 16]) for n in range(count)]
                found = [(lump.rstrip(b"\0").decode("latin1"), data[start:start + size])
                         for start, size, lump in lumps if data[start:start + 4] == b"MThd"]
            else:
                found = []
            for score, music in found:
                if music not in seen:
                    seen.add(music)
                    yield score, music


def played(data):
    """Every message of a score in its order with its time, s, up to SECONDS."""
    now, out = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data), clip=True):
        now += message.time
        if now > SECONDS:
            break
        if not message.is_meta and message.type != "sysex":
            out.append((now, message))
    return out


def group(message, programs):
    """The part that a note belongs to."""
    if message.channel == DRUMS:
        return next((name for name, keys in STROKES.items() if message.note in keys), "cymbals")
    program = programs[message.channel]
    return "bass" if 32 <= program < 40 else "guitars" if 24 <= program < 32 else "rest"


def parts(messages):
    """Messages of each part; those that are no notes go to all."""
    programs, out = [0] * 16, {name: [] for name in LEVELS}
    for at, message in messages:
        if message.type == "program_change":
            programs[message.channel] = message.program
        if message.type in ("note_on", "note_off"):
            out[group(message, programs)].append((at, message))
        else:
            for part in out.values():
                part.append((at, message))
    return out


def render(messages, font, program=None, clean=False):
    """A part through a font; frames x 2. `program`: the drum kit; `clean`: distorted guitars played clean."""
    score = mido.MidiFile(ticks_per_beat=960)
    track = mido.MidiTrack()
    score.tracks.append(track)
    last = 0
    if program is not None:
        track.append(mido.Message("program_change", channel=DRUMS, program=program))
    for at, message in messages:
        if message.type == "program_change":
            if message.channel == DRUMS:
                continue
            if clean and message.program in DISTORTED:
                message = message.copy(program=CLEAN)
        tick = round(at * 1920)
        track.append(message.copy(time=tick - last))
        last = tick
    # Nothing is held for ever: fluidsynth plays on until all is silent.
    for channel in range(16):
        track.append(mido.Message("control_change", channel=channel, control=120, value=0,
                                  time=1920 if channel == 0 else 0))
    with tempfile.TemporaryDirectory() as folder:
        midi, wav = os.path.join(folder, "score.mid"), os.path.join(folder, "score.wav")
        score.save(midi)
        how = ["-o", "synth.dynamic-sample-loading=1", "-R", "0", "-C", "0", "-g", "0.3", "-r", str(RATE), "-O", "float"]
        subprocess.run(["fluidsynth", "-ni", "-q", *how, "-F", wav, FONTS[font], midi], check=True,
                       capture_output=True)
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", wavfile.WavFileWarning)
            _, audio = wavfile.read(wav)
    frames = int(SECONDS * RATE)
    audio = np.atleast_2d(audio.astype(np.float64))[:frames]
    return np.pad(audio, ((0, frames - len(audio)), (0, 0)))


def level(audio):
    """RMS over the louder half of the 400 ms that sound, dB."""
    low_cut = butter(1, 80.0, "high", fs=RATE, output="sos")
    power = (sosfilt(low_cut, audio, axis=0) ** 2).mean(axis=1)
    blocks = power[:len(power) // 19_200 * 19_200].reshape(-1, 19_200).mean(axis=1)
    sounding = np.sort(blocks[blocks > 1e-6 * max(blocks.max(), 1e-20)])
    return 10 * np.log10(sounding[len(sounding) // 2:].mean()) if len(sounding) else None


def amplifier(audio, draw):
    """One valve stage and a cabinet."""
    mono = audio.mean(axis=1)
    mono = sosfilt(butter(1, draw.uniform(80, 300), "high", fs=RATE, output="sos"), mono)
    mono = resample_poly(mono / max(np.abs(mono).max(), 1e-9), 4, 1)
    bias = draw.uniform(0.0, 0.3)
    mono = np.tanh(10 ** (draw.uniform(15, 45) / 20) * mono + bias) - np.tanh(bias)
    mono = resample_poly(mono, 1, 4)
    mono = sosfilt(butter(3, draw.uniform(3_500, 6_500), fs=RATE, output="sos"), mono)
    return sosfilt(butter(1, [70, 9_000], "band", fs=RATE, output="sos"), mono)


def guitars(messages, font, draw):
    distorted = any(m.type == "program_change" and m.program in DISTORTED for _, m in messages)
    if not distorted or draw.random() < 0.5:
        return render(messages, font)
    takes = [amplifier(render(messages, draw.choice(WHOLE), clean=True), draw) for _ in range(2)]
    late = int(draw.uniform(0.004, 0.02) * RATE)
    takes[1] = np.concatenate([np.zeros(late), takes[1][:-late]])
    return np.stack([t / max(np.sqrt((t ** 2).mean()), 1e-9) for t in takes], axis=1)


def attack(audio, by):
    """Fast over slow envelope to the power `by`: more attack over 0, less under it."""
    mono = np.abs(audio).max(axis=1)
    fast, slow = (lfilter([1 - a], [1, -a], mono) for a in (np.exp(-1 / (0.002 * RATE)), np.exp(-1 / (0.05 * RATE))))
    ratio = np.clip((fast + 1e-6) / (slow + 1e-6), 0.5, 4.0)
    return audio * (ratio ** by)[:, None]


def room(audio, draw):
    seconds = draw.uniform(0.15, 1.2)
    noise = np.random.default_rng(draw.randrange(1 << 30)).normal(size=(int(seconds * RATE), 2))
    noise *= np.exp(-6.9 * np.arange(len(noise)) / len(noise))[:, None]
    wet = np.stack([fftconvolve(audio[:, side], noise[:, side])[:len(audio)] for side in (0, 1)], axis=1)
    wet *= np.sqrt((audio ** 2).mean() / max((wet ** 2).mean(), 1e-20))
    return audio + 10 ** (draw.uniform(-24, -9) / 20) * wet


def mix(of, draw):
    """One balance of a score, frames x 2."""
    silence = np.zeros((int(SECONDS * RATE), 2))
    kit, total, drums = draw.choice(KITS), silence, silence
    for name, messages in of.items():
        if not any(m.type == "note_on" for _, m in messages):
            continue
        struck = name in STROKES or name == "cymbals"
        if struck:
            audio = render(messages, *kit)
        else:
            font = draw.choice(WHOLE)
            audio = guitars(messages, font, draw) if name == "guitars" else render(messages, font)
        here = level(audio)
        if here is None:
            continue
        mean, sigma = LEVELS[name]
        audio = audio * 10 ** ((draw.gauss(mean, sigma) - here) / 20)
        if struck:
            drums = drums + audio
        else:
            total = total + audio
    drums = room(attack(drums, draw.uniform(-0.3, 0.5)), draw)
    balance = 10 ** (draw.uniform(-4, 4) / 20)
    out = drums * balance + total
    return out * 10 ** (-1 / 20) / np.abs(out).max()


def main(folder, out, times="2"):
    os.makedirs(out, exist_ok=True)
    for name, data in scores(folder):
        try:
            of = parts(played(data))
        except (OSError, EOFError, ValueError, KeyError) as error:
            print(f"left out: {name}: {error}", file=sys.stderr)
            continue
        strokes = sum(m.type == "note_on" and m.velocity > 0 for part in ("kick", "snare", "toms") for _, m in of[part])
        if strokes < LEAST_STROKES:
            print(f"left out: {name}: {strokes} strokes, {LEAST_STROKES} are needed", file=sys.stderr)
            continue
        for turn in range(int(times)):
            path = os.path.join(out, f"{name}-{turn}.wav")
            if os.path.exists(path):
                continue
            audio = mix(of, random.Random(f"{name} {turn}"))
            wavfile.write(path, RATE, audio.astype(np.float32))


if __name__ == "__main__":
    main(*sys.argv[1:])
