#!/usr/bin/env python3
"""Plays tracker modules to WAV files, for the fit of the ceiling.

usage: modules.py FOLDER OUT

Every module below FOLDER (xm, it, s3m, mod) is played by libopenmpt (Debian: libopenmpt0) to 32-bit
float at 48 kHz, so that no sample of it is clipped: once as it is, and once with half of the channels
turned down by up to 6 dB, as another hand would balance it. Channels are the parts of a module, and
no limiter sits behind them. Needs numpy. Modules under a minute and those
that libopenmpt does not read are left out, and named.
"""
import ctypes
import os
import random
import sys

import numpy as np

RATE, SECONDS, BLOCK = 48_000, 100, 4_800
KINDS = (".xm", ".it", ".s3m", ".mod")


class Interactive(ctypes.Structure):
    """`openmpt_module_ext_interface_interactive` of libopenmpt_ext.h: sixteen functions."""
    _fields_ = [(name, ctypes.c_void_p) for name in (
        "set_current_speed", "set_current_tempo", "set_tempo_factor", "get_tempo_factor",
        "set_pitch_factor", "get_pitch_factor", "set_global_volume", "get_global_volume",
        "set_channel_volume", "get_channel_volume", "set_channel_mute_status",
        "get_channel_mute_status", "set_instrument_mute_status", "get_instrument_mute_status",
        "play_note", "stop_note")]


def library():
    lib = ctypes.CDLL("libopenmpt.so.0")
    lib.openmpt_module_ext_create_from_memory.restype = ctypes.c_void_p
    lib.openmpt_module_ext_get_module.restype = ctypes.c_void_p
    lib.openmpt_module_get_duration_seconds.restype = ctypes.c_double
    return lib


def play(lib, data, gains):
    """Up to SECONDS of a module, frames x 2; None where it cannot be read or is short."""
    null = ctypes.c_void_p()
    ext = lib.openmpt_module_ext_create_from_memory(data, ctypes.c_size_t(len(data)), null, null, null,
                                                    null, null, null, null)
    if not ext:
        return None
    ext = ctypes.c_void_p(ext)
    module = ctypes.c_void_p(lib.openmpt_module_ext_get_module(ext))
    hands = Interactive()
    lib.openmpt_module_ext_get_interface(ext, b"interactive", ctypes.byref(hands),
                                         ctypes.c_size_t(ctypes.sizeof(hands)))
    set_volume = ctypes.CFUNCTYPE(ctypes.c_int, ctypes.c_void_p, ctypes.c_int32, ctypes.c_double)(
        hands.set_channel_volume)
    blocks, buffer = [], (ctypes.c_float * (2 * BLOCK))()
    short = lib.openmpt_module_get_duration_seconds(module) < 60
    while not short and len(blocks) * BLOCK < RATE * SECONDS:
        frames = lib.openmpt_module_read_interleaved_float_stereo(module, RATE, ctypes.c_size_t(BLOCK),
                                                                  buffer)
        # Playing starts the channels at their own gains, so the hands move behind the first block.
        if gains is not None and not blocks:
            for channel in range(lib.openmpt_module_get_num_channels(module)):
                set_volume(ext, channel, gains.uniform(0.5, 1.0) if gains.random() < 0.5 else 1.0)
        if not frames:
            break
        blocks.append(np.frombuffer(buffer, np.float32, 2 * frames).copy().reshape(-1, 2))
    lib.openmpt_module_ext_destroy(ext)
    return None if short or not blocks else np.concatenate(blocks)


def write(path, audio):
    """32-bit float WAV; Python's `wave` writes integers only."""
    body = audio.astype("<f4").tobytes()
    head = (b"RIFF" + (36 + len(body)).to_bytes(4, "little") + b"WAVEfmt " + (16).to_bytes(4, "little")
            + (3).to_bytes(2, "little") + (2).to_bytes(2, "little") + RATE.to_bytes(4, "little")
            + (8 * RATE).to_bytes(4, "little") + (8).to_bytes(2, "little") + (32).to_bytes(2, "little")
            + b"data" + len(body).to_bytes(4, "little"))
    with open(path, "wb") as file:
        file.write(head + body)


def main(folder, out):
    lib = library()
    os.makedirs(out, exist_ok=True)
    paths = sorted(os.path.join(at, name) for at, _, names in os.walk(folder) for name in names
                   if name.lower().endswith(KINDS))
    for path in paths:
        with open(path, "rb") as file:
            data = file.read()
        name = os.path.basename(path).replace(".", "-")
        for balance, gains in (("as-is", None), ("other", random.Random(name))):
            audio = play(lib, data, gains)
            if audio is None:
                print(f"left out: {path}", file=sys.stderr)
                break
            peak = np.abs(audio).max()
            write(os.path.join(out, f"{name}-{balance}.wav"), audio / max(peak, 1e-6))


if __name__ == "__main__":
    main(*sys.argv[1:])
