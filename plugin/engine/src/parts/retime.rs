//! A part with its strokes somewhere else: in its audio and, cell by cell, in its power.
//!
//! A part is cut [`NOTE_LEAD_MS`](crate::thresholds::arrangement::NOTE_LEAD_MS) ahead of each
//! stroke that is told of, and each piece goes where its stroke goes. A piece that has less room
//! there than before is cut short by the next stroke, as a string that is struck again is. One that
//! has more is made longer behind its attack: in its quiet part where it has one, else by going back
//! a little, to where the sound is most like what comes next. Pieces that keep their distance are
//! not touched at all, sample for sample.

use crate::thresholds::arrangement as l;

/// A stroke and where it goes, s from the start of the part.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Move {
    /// Where it is.
    pub from_s: f64,
    /// Where it goes.
    pub to_s: f64,
}

/// Time of a fade from one piece to the next, s. Ours: shorter than the lead of a stroke.
const FADE_S: f64 = 0.003;
/// Time of a fade within a piece that is made longer, s. Ours: a period of a low string.
const SEAM_S: f64 = 0.012;
/// How far back a piece goes to become longer, s, least and most. Ours: one to four periods of a low
/// string; shorter makes a tone of its own, longer an echo.
const BACK_S: (f64, f64) = (0.016, 0.048);
/// Attack that is never drawn out, s behind the stroke. Ours.
const ATTACK_S: f64 = 0.06;
/// Least distance of two strokes, s. Ours: as the spacing of onsets.
const CLOSE_S: f64 = 0.025;
/// Level under a piece's loudest 20 ms at which it is quiet enough to be drawn out there, dB. Ours.
const QUIET_DB: f64 = 26.0;
/// Length over which a level is read, s. Ours.
const LEVEL_S: f64 = 0.02;

/// The moves in order of their source, to places in the same order that are [`CLOSE_S`] apart.
/// Moves that overtake each other give way to the earlier one.
fn in_order(moves: &[Move]) -> Vec<Move> {
    let mut moves: Vec<Move> = moves
        .iter()
        .copied()
        .filter(|stroke| stroke.from_s.is_finite() && stroke.to_s.is_finite())
        .collect();
    moves.sort_by(|a, b| a.from_s.total_cmp(&b.from_s));
    moves.dedup_by(|b, a| b.from_s - a.from_s < CLOSE_S);
    for n in 1..moves.len() {
        moves[n].to_s = moves[n].to_s.max(moves[n - 1].to_s + CLOSE_S);
    }
    moves
}

/// A piece of the source from frame `from` of `length`, and its room: from `to`, `room` long.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Piece {
    from: usize,
    length: usize,
    to: usize,
    room: usize,
    /// Frames at its start that are never drawn out.
    attack: usize,
}

/// The pieces of a part of `frames` frames at `rate` a second, in order, without a gap on either
/// side.
fn pieces(moves: &[Move], frames: usize, rate: f64) -> Vec<Piece> {
    let frame = |s: f64| (s * rate).round().clamp(0.0, frames as f64) as usize;
    let lead_s = l::NOTE_LEAD_MS * 1e-3;
    let mut cuts = vec![(0, 0)];
    for stroke in in_order(moves) {
        let cut = (frame(stroke.from_s - lead_s), frame(stroke.to_s - lead_s));
        let last = cuts[cuts.len() - 1];
        if cut.0 > last.0 && cut.1 > last.1 && cut.0 < frames && cut.1 < frames {
            cuts.push(cut);
        }
    }
    let attack = ((ATTACK_S + lead_s) * rate) as usize;
    (0..cuts.len())
        .map(|n| {
            let (from, to) = cuts[n];
            let (next, next_to) = cuts.get(n + 1).copied().unwrap_or((frames, frames));
            let length = next - from;
            Piece { from, length, to, room: next_to - to, attack: attack.min(length / 2) }
        })
        .collect()
}

/// A part with its strokes moved: planes of one length, one a channel, at `rate_hz` frames a second.
/// What is given back has the same length. Allocates.
#[must_use]
pub fn audio(planes: &[Vec<f32>], rate_hz: f64, moves: &[Move]) -> Vec<Vec<f32>> {
    let frames = planes.iter().map(Vec::len).min().unwrap_or(0);
    let mut out = vec![vec![0.0f32; frames]; planes.len()];
    if frames == 0 {
        return out;
    }
    let mono: Vec<f32> =
        (0..frames).map(|n| planes.iter().map(|plane| plane[n]).sum::<f32>()).collect();
    let fade = ((FADE_S * rate_hz) as usize).max(1);
    let mut last_end = 0i64;
    for piece in pieces(moves, frames, rate_hz) {
        let runs = runs(&mono, &piece, rate_hz);
        // Where it follows its neighbour as in the source, nothing is faded.
        let joined = piece.from as i64 - piece.to as i64 == last_end;
        let fade_in = if joined { 0 } else { fade.min(piece.to).min(piece.from) };
        for (plane, out) in planes.iter().zip(&mut out) {
            write(plane, out, &piece, &runs, fade_in, rate_hz);
        }
        last_end = runs.last().map_or(last_end, |run| run.from as i64 - run.at as i64);
    }
    out
}

/// A run of the source from frame `from` on, at frame `at` of the result, up to the next one.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Run {
    at: usize,
    from: usize,
}

/// The runs of the source that fill a piece's room.
fn runs(mono: &[f32], piece: &Piece, rate: f64) -> Vec<Run> {
    let mut runs = vec![Run { at: piece.to, from: piece.from }];
    let Some(mut missing) = piece.room.checked_sub(piece.length).filter(|&more| more > 0) else {
        return runs;
    };
    let frames = |s: f64| ((s * rate) as usize).max(1);
    let (seam, (least, most)) = (frames(SEAM_S), (frames(BACK_S.0), frames(BACK_S.1)));
    let source = &mono[piece.from..piece.from + piece.length];
    // Where a seam may begin: behind the attack, with room to go back to and a seam ahead.
    let (first, last) = (piece.attack + least, piece.length.saturating_sub(seam));
    if first >= last {
        return runs;
    }
    let quiet = quiet(source, piece.attack, last, rate);
    let count = missing.div_ceil((least + most) / 2).max(1);
    let mut ahead = 0;
    for n in 0..count {
        if missing == 0 {
            break;
        }
        let at = quiet.unwrap_or_else(|| {
            // Spread evenly over the later two thirds.
            let start = first + (last - first) / 3;
            start + (last - start) * (n + 1) / (count + 1)
        });
        let at = at.clamp(first, last);
        let room = at - piece.attack;
        let want = missing.div_ceil(count - n);
        let back = if want >= least && room > least {
            alike(source, at, seam, least, most.min(room).min(want + want / 3 + 1))
        } else {
            want.min(room)
        };
        let back = if n + 1 == count { back.max(want.min(room)) } else { back };
        // The result has gone on from the source's start by so much.
        runs.push(Run { at: piece.to + at + ahead, from: piece.from + at - back });
        ahead += back;
        missing = missing.saturating_sub(back);
    }
    // Runs in order of the result, each behind the seam of the one before.
    let end = piece.to + piece.room;
    runs.retain(|run| run.at < end);
    runs
}

/// The middle of the quietest stretch of a piece behind its attack, where it is quiet there.
fn quiet(source: &[f32], attack: usize, last: usize, rate: f64) -> Option<usize> {
    let length = ((LEVEL_S * rate) as usize).max(1);
    let level = |chunk: &[f32]| chunk.iter().map(|x| f64::from(x * x)).sum::<f64>();
    let loudest = source.chunks(length).map(level).fold(0.0, f64::max);
    let (at, lowest) = source[..last]
        .chunks(length)
        .enumerate()
        .filter(|(n, chunk)| n * length >= attack && chunk.len() == length)
        .map(|(n, chunk)| (n * length + length / 2, level(chunk)))
        .min_by(|a, b| a.1.total_cmp(&b.1))?;
    (lowest <= loudest * 10f64.powf(-QUIET_DB / 10.0)).then_some(at)
}

/// How far back from `at` the next `seam` frames are most like those at `at`, from `least` to
/// `most` frames.
fn alike(source: &[f32], at: usize, seam: usize, least: usize, most: usize) -> usize {
    let ahead = &source[at..(at + seam).min(source.len())];
    let mut best = (f64::NEG_INFINITY, least);
    // Every second frame is enough for low strings, and half the work.
    for back in (least..=most.max(least)).step_by(2) {
        let Some(from) = at.checked_sub(back) else { break };
        let other = &source[from..from + ahead.len()];
        let (mut product, mut power) = (0.0f64, 1e-12f64);
        for (a, b) in ahead.iter().zip(other).step_by(2) {
            product += f64::from(a * b);
            power += f64::from(b * b);
        }
        let likeness = product / power.sqrt();
        if likeness > best.0 {
            best = (likeness, back);
        }
    }
    best.1
}

/// Writes a piece into its room, fading it in over the end of the one before.
fn write(plane: &[f32], out: &mut [f32], piece: &Piece, runs: &[Run], fade_in: usize, rate: f64) {
    // Ahead of the room: what is there of another piece gives way.
    for n in 0..fade_in {
        let share = (n as f32 + 0.5) / fade_in as f32 * std::f32::consts::FRAC_PI_2;
        let (at, from) = (piece.to - fade_in + n, piece.from - fade_in + n);
        out[at] = out[at] * share.cos() + plane[from] * share.sin();
    }
    let end = piece.to + piece.room;
    let seam = ((SEAM_S * rate) as usize).max(1);
    for (n, run) in runs.iter().enumerate() {
        let next = runs.get(n + 1).map_or(end, |next| next.at.min(end));
        let before = n.checked_sub(1).map(|n| runs[n]);
        for at in run.at..next {
            // What no seam could fill stays silent: behind the piece the next attack begins.
            let sample = |run: &Run| {
                let from = run.from + (at - run.at);
                if from < piece.from + piece.length { plane[from] } else { 0.0 }
            };
            let into = at - run.at;
            out[at] = match before {
                Some(before) if into < seam => {
                    let share = (into as f32 + 0.5) / seam as f32;
                    sample(&before) * (1.0 - share) + sample(run) * share
                }
                _ => sample(run),
            };
        }
    }
}

/// The power of a part with its strokes moved, a value a cell of `cell_s` seconds: as [`audio`] does
/// it to its sound, within a cell.
#[must_use]
pub fn power(power: &[f32], cell_s: f64, moves: &[Move]) -> Vec<f32> {
    let mut out = vec![0.0f32; power.len()];
    for piece in pieces(moves, power.len(), 1.0 / cell_s) {
        let behind = piece.length - piece.attack;
        let room = piece.room.saturating_sub(piece.attack);
        let source = &power[piece.from..piece.from + piece.length];
        let loudest = source.iter().fold(0.0f32, |most, &power| most.max(power));
        let least = loudest * 10f32.powf(-QUIET_DB as f32 / 10.0);
        let quietest = source[piece.attack..]
            .iter()
            .enumerate()
            .min_by(|a, b| a.1.total_cmp(b.1))
            .filter(|(_, power)| **power <= least)
            .map(|(n, _)| piece.attack + n);
        for n in 0..piece.room {
            let from = if n < piece.attack || piece.room <= piece.length {
                n
            } else if let Some(quiet) = quietest {
                let more = piece.room - piece.length;
                if n < quiet { n } else { n.saturating_sub(more).max(quiet) }
            } else {
                piece.attack + (n - piece.attack) * behind / room.max(1)
            };
            out[piece.to + n] = source.get(from).copied().unwrap_or(0.0);
        }
    }
    out
}

/// What a part's samples are multiplied by in each cell for its power to go from `before` to `after`.
fn gains(before: &[f32], after: &[f32]) -> Vec<f32> {
    let gain = |(before, after): (&f32, &f32)| {
        if *before > 0.0 { (after / before).max(0.0).sqrt() } else { 1.0 }
    };
    before.iter().zip(after).map(gain).collect()
}

/// The power of what [`levelled`] makes of a part, cell by cell: the gain goes in straight lines, so a
/// cell that is lifted over its neighbours is lifted by less, and a low note swings within each of its
/// periods from cell to cell.
#[must_use]
pub fn levelled_power(before: &[f32], after: &[f32]) -> Vec<f32> {
    let gains = gains(before, after);
    // Mean of the square over a straight line.
    let mean = |from: f32, to: f32| (from * from + from * to + to * to) / 3.0;
    let each = before.iter().zip(&gains).enumerate().map(|(n, (power, &gain))| {
        let ahead = 0.5 * (gains[n.saturating_sub(1)] + gain);
        let behind = 0.5 * (gain + gains.get(n + 1).copied().unwrap_or(gain));
        power * 0.5 * (mean(ahead, gain) + mean(gain, behind))
    });
    each.collect()
}

/// A part whose power goes from `before` to `after`, values a cell of `cell_frames`: its audio with
/// the gain between the two, on straight lines from the middle of one cell to that of the next.
#[must_use]
pub fn levelled(
    planes: &[Vec<f32>],
    cell_frames: usize,
    before: &[f32],
    after: &[f32],
) -> Vec<Vec<f32>> {
    let gains = gains(before, after);
    let at = |n: usize| gains.get(n).or(gains.last()).copied().unwrap_or(1.0);
    let scaled = |plane: &Vec<f32>| -> Vec<f32> {
        let each = plane.iter().enumerate().map(|(frame, x)| {
            // From the middle of the cell before.
            let place = frame.saturating_sub(cell_frames / 2);
            let (cell, share) = (place / cell_frames, place % cell_frames);
            let share = share as f32 / cell_frames as f32;
            x * (at(cell) * (1.0 - share) + at(cell + 1) * share)
        });
        each.collect()
    };
    planes.iter().map(scaled).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::noise::noise;

    const RATE: f64 = 48_000.0;

    /// Decaying tones of 110 Hz, one a half second from 0.25 s on, with a silent lead.
    fn tones(decay_s: f64) -> Vec<f32> {
        let tone = |n: usize| {
            let at = (n as f64 / RATE - 0.25) % 0.5;
            let rung = (-at / decay_s).exp() * (std::f64::consts::TAU * 110.0 * at).sin();
            if (n as f64) < 0.25 * RATE { 0.0 } else { rung as f32 }
        };
        (0..(4.0 * RATE) as usize).map(tone).collect()
    }

    fn moves(by: impl Fn(usize) -> f64) -> Vec<Move> {
        (0..7)
            .map(|n| Move { from_s: 0.25 + 0.5 * n as f64, to_s: 0.25 + 0.5 * n as f64 + by(n) })
            .collect()
    }

    #[test]
    fn what_stays_is_not_touched() {
        let plane = tones(0.2);
        let moved = audio(std::slice::from_ref(&plane), RATE, &moves(|_| 0.0));
        assert_eq!(moved[0], plane);
        assert_eq!(audio(std::slice::from_ref(&plane), RATE, &[])[0], plane);
        assert_eq!(audio(&[Vec::new()], RATE, &[Move::default()]), [Vec::<f32>::new()]);
    }

    /// Each attack is, to the sample, where it was told to go.
    #[test]
    fn attacks_arrive_whole() {
        let plane = tones(0.1);
        let by = |n: usize| [0.0, 0.02, -0.03, 0.12, -0.05, 0.0, 0.04][n];
        let moved = &audio(std::slice::from_ref(&plane), RATE, &moves(by))[0];
        assert_eq!(moved.len(), plane.len());
        for n in 0..7 {
            let from = ((0.25 + 0.5 * n as f64) * RATE) as usize;
            let to = (from as f64 + by(n) * RATE).round() as usize;
            for k in 0..(0.05 * RATE) as usize {
                assert_eq!(moved[to + k], plane[from + k], "stroke {n}, frame {k}");
            }
        }
    }

    /// No step between two samples is larger than those of the tone itself, but at an attack.
    #[test]
    fn seams_do_not_click() {
        let plane = tones(0.4);
        let steepest = |x: &[f32]| x.windows(2).map(|w| (w[1] - w[0]).abs()).fold(0.0, f32::max);
        let moved =
            &audio(std::slice::from_ref(&plane), RATE, &moves(|n| 0.07 * (n % 2) as f64))[0];
        assert!(steepest(moved) <= 1.25 * steepest(&plane), "{}", steepest(moved));
    }

    /// Noise, so that a cell's power says nothing of the one beside it, through gains that jump from cell to
    /// cell: the power that is foretold is that of the audio.
    #[test]
    fn power_is_levelled_as_the_sound_is() {
        let plane = noise(96_000, 24);
        let cells = |x: &[f32]| -> Vec<f32> {
            x.chunks(48).map(|c| c.iter().map(|x| x * x).sum::<f32>() / 48.0).collect()
        };
        let before = cells(&plane);
        let wanted = |n: usize| [0.1, 1.0, 0.5, 4.0, 0.02, 2.0][n % 6];
        let after: Vec<f32> = before.iter().enumerate().map(|(n, x)| x * wanted(n)).collect();
        let sound = cells(&levelled(std::slice::from_ref(&plane), 48, &before, &after)[0]);
        let foretold = levelled_power(&before, &after);
        for n in 0..6 {
            let mean = |x: &[f32]| x.iter().skip(n).step_by(6).sum::<f32>();
            let off = mean(&foretold) / mean(&sound);
            assert!((off - 1.0).abs() < 0.03, "{n}: {off}");
        }
        // Not what was asked for: the third is lifted by less than its neighbours are.
        assert!(foretold[3] < 0.8 * after[3] && foretold[4] > 5.0 * after[4]);
        assert_eq!(levelled_power(&before, &before), before);
    }

    /// Power moved as power is the power of audio moved as audio.
    #[test]
    fn power_moves_as_the_sound_does() {
        let plane = tones(0.25);
        let cells = |x: &[f32]| -> Vec<f32> {
            x.chunks(480).map(|c| c.iter().map(|x| x * x).sum::<f32>() / 480.0).collect()
        };
        let moves = moves(|n| [0.0, 0.05, -0.08, 0.1, 0.0, -0.06, 0.03][n]);
        let sound = cells(&audio(std::slice::from_ref(&plane), RATE, &moves)[0]);
        let moved = power(&cells(&plane), 0.01, &moves);
        let all = sound.iter().sum::<f32>();
        let off: f32 = sound.iter().zip(&moved).map(|(a, b)| (a - b).abs()).sum();
        assert!(off < 0.15 * all, "{} of {all}", off);
    }
}
