//! The kit: a bass drum, a snare and three toms made of decaying modes and noise, and its room.

use std::f64::consts::TAU;

use super::cymbals;
use super::feel::{self, Feel};
use super::filter::Biquad;
use super::room::{Room, reverb};
use super::score::{Drum, Stroke, strokes};
use super::stereo::Stereo;
use super::{SAMPLE_RATE_HZ, db, frames};

/// The whole kit with its room.
pub fn kit() -> Stereo {
    let mut dry = Stereo::silent();
    let mut feel = Feel::new(0x00d2_0002, 0.0, 0.0);
    for (stroke, at) in feel::drummer(&strokes()) {
        let (sound, pan, level_db) = strike(&stroke, &mut feel);
        dry.place(&sound, frames(at), pan, db(level_db));
    }
    let mut room = reverb(&dry, &Room { decay_s: 0.42, delay_s: 0.011, bright_hz: 5200.0 });
    room.scale(db(-17.0));
    dry.add(&room);
    // The desk's tone for the kit: cymbals close to a microphone are brighter than a record.
    for channel in [&mut dry.left, &mut dry.right] {
        Biquad::high_shelf(6000.0, -9.5).run_f32(channel);
        Biquad::bell(62.0, 1.0, -4.0).run_f32(channel);
    }
    dry
}

/// Sound, place (-1 to 1) and level of one stroke.
fn strike(stroke: &Stroke, feel: &mut Feel) -> (Vec<f64>, f64, f64) {
    // A softer stroke is duller too.
    let soft = (-stroke.level_db / 20.0).clamp(0.0, 1.0);
    let (sound, pan, level_db) = match stroke.drum {
        Drum::Kick => (kick(soft, feel), 0.0, -2.0),
        Drum::Snare => (snare(soft, feel), 0.05, -0.5),
        Drum::Tom(which) => {
            let which = f64::from(which);
            (tom(150.0 * 0.76_f64.powf(which), feel), -0.45 + 0.4 * which, -2.0)
        }
        Drum::Hat => (cymbals::hat(0.045, feel), -0.4, -15.5),
        Drum::OpenHat => (cymbals::hat(0.30, feel), -0.4, -16.0),
        Drum::Ride => (cymbals::ride(feel), 0.45, -15.5),
        Drum::Crash => (cymbals::crash(feel), -0.3, -10.0),
    };
    (sound, pan, level_db + stroke.level_db)
}

fn seconds(length_s: f64) -> impl Iterator<Item = f64> {
    (0..frames(length_s)).map(|frame| frame as f64 / f64::from(SAMPLE_RATE_HZ))
}

/// A sine whose pitch falls from the beater's blow to the shell's, and the beater's click.
fn kick(soft: f64, feel: &mut Feel) -> Vec<f64> {
    let mut phase = 0.0;
    let mut click: Vec<f64> = seconds(0.02).map(|t| feel.noise() * (-t / 0.0022).exp()).collect();
    Biquad::band_pass(3300.0, 0.7).run(&mut click);
    seconds(0.5)
        .enumerate()
        .map(|(index, t)| {
            let hz = 54.0 + 95.0 * (-t / 0.022).exp() + 260.0 * (-t / 0.0035).exp();
            phase += TAU * hz / f64::from(SAMPLE_RATE_HZ);
            // The skin gives way within a millisecond, then rings out in two stages.
            let rise = 1.0 - (-t / 0.0006).exp();
            let ring = 0.72 * (-t / 0.055).exp() + 0.28 * (-t / 0.16).exp();
            let body = (1.25 * phase.sin()).tanh() * rise * ring;
            body * 0.92 + click.get(index).copied().unwrap_or(0.0) * 0.8 * (1.0 - 0.7 * soft)
        })
        .collect()
}

/// Modes of the two skins, the wires' noise, and the stick.
fn snare(soft: f64, feel: &mut Feel) -> Vec<f64> {
    // Ratios of a circular membrane's modes (1, 1.59, 2.14, 2.30, 2.65), raised by the shell.
    const MODES: &[(f64, f64, f64)] = &[
        (188.0, 0.62, 0.085),
        (302.0, 0.34, 0.060),
        (404.0, 0.20, 0.048),
        (436.0, 0.16, 0.042),
        (503.0, 0.10, 0.035),
    ];
    let length_s = 0.42;
    let mut wires: Vec<f64> = seconds(length_s)
        .map(|t| {
            let ring = 0.75 * (-t / 0.045).exp() + 0.25 * (-t / 0.13).exp();
            feel.noise() * ring * (1.0 - (-t / 0.0008).exp())
        })
        .collect();
    Biquad::high_pass(900.0, 0.6).run(&mut wires);
    Biquad::bell(4200.0, 0.6, 4.0).run(&mut wires);
    Biquad::low_pass(10_500.0, 0.6).run(&mut wires);
    let mut stick: Vec<f64> = seconds(0.012).map(|t| feel.noise() * (-t / 0.0013).exp()).collect();
    Biquad::band_pass(2400.0, 0.5).run(&mut stick);
    seconds(length_s)
        .enumerate()
        .map(|(index, t)| {
            let bend = 1.0 + 0.10 * (-t / 0.012).exp();
            let skins: f64 = MODES
                .iter()
                .map(|(hz, level, decay)| level * (-t / decay).exp() * (TAU * hz * bend * t).sin())
                .sum();
            let blow = stick.get(index).copied().unwrap_or(0.0) * (1.0 - 0.6 * soft);
            0.78 * skins + 0.62 * wires[index] + 1.0 * blow
        })
        .collect()
}

fn tom(hz: f64, feel: &mut Feel) -> Vec<f64> {
    let mut stick: Vec<f64> = seconds(0.015).map(|t| feel.noise() * (-t / 0.0018).exp()).collect();
    Biquad::band_pass(1900.0, 0.5).run(&mut stick);
    let mut phase = [0.0_f64; 3];
    seconds(0.6)
        .enumerate()
        .map(|(index, t)| {
            let bend = 1.0 + 0.32 * (-t / 0.02).exp();
            let parts = [(1.0, 0.8, 0.17), (1.59, 0.3, 0.09), (2.14, 0.18, 0.06)];
            let skin: f64 = parts
                .iter()
                .zip(&mut phase)
                .map(|((ratio, level, decay), phase)| {
                    *phase += TAU * hz * ratio * bend / f64::from(SAMPLE_RATE_HZ);
                    level * (-t / decay).exp() * phase.sin()
                })
                .sum();
            skin + 0.8 * stick.get(index).copied().unwrap_or(0.0)
        })
        .collect()
}
