//! Target `files`: small valid files of every format, edited, cut and spliced, then read to their
//! end and brought to another rate.

use std::cell::RefCell;
use std::fs::File;
use std::io::{Seek, SeekFrom, Write};

use arbitrary::{Result, Unstructured};
use brunt_files::decode::AudioFile;
use brunt_files::resample;
use tempfile::NamedTempFile;

/// Tones of a tenth of a second, made with ffmpeg for this: 8 to 48 kHz, one or two channels.
const SEEDS: &[&[u8]] = &[
    include_bytes!("../files/pcm16.wav.bin"),
    include_bytes!("../files/float.wav.bin"),
    include_bytes!("../files/extensible24.wav.bin"),
    include_bytes!("../files/pcm16.aiff.bin"),
    include_bytes!("../files/tone.flac.bin"),
    include_bytes!("../files/tone.mp3.bin"),
    include_bytes!("../files/tone.ogg.bin"),
];

/// Most frames that are read of one file: an edited length may promise hours of silence.
const MOST_FRAMES: usize = 200_000;

thread_local! {
    // One file for all executions: making one costs more than reading it.
    static PLACE: RefCell<NamedTempFile> =
        RefCell::new(NamedTempFile::new().expect("a temporary file"));
}

pub fn run(bytes: &[u8]) {
    let mut u = Unstructured::new(bytes);
    let Ok(file) = made(&mut u) else { return };
    PLACE.with_borrow_mut(|place| {
        write(place.as_file_mut(), &file);
        read(place.path(), u.arbitrary().unwrap_or(0));
    });
}

fn write(place: &mut File, bytes: &[u8]) {
    place.set_len(0).expect("shortens");
    place.seek(SeekFrom::Start(0)).expect("seeks");
    place.write_all(bytes).expect("writes");
}

/// Reads to the end or to the first error, and what was read once more at another rate.
fn read(path: &std::path::Path, choice: u8) {
    let mut file = match AudioFile::open(path) {
        Ok(file) => file,
        Err(error) => return told(&error.to_string()),
    };
    let mut all = vec![Vec::new(); file.channels()];
    let mut block = Vec::new();
    loop {
        match file.next_block(&mut block) {
            Ok(true) => {}
            Ok(false) => break,
            Err(error) => {
                told(&error.to_string());
                break;
            }
        }
        assert_eq!(block.len(), all.len(), "as many channels as promised");
        for (all, part) in all.iter_mut().zip(&block) {
            assert_eq!(part.len(), block[0].len(), "channels of one length");
            all.extend_from_slice(part);
        }
        if all[0].len() > MOST_FRAMES {
            return;
        }
    }
    if choice.is_multiple_of(16) && all[0].len() < 10_000 {
        let to_hz = [44_100, 48_000, 8_000, 96_000][usize::from(choice / 16) % 4];
        let _ = resample::to_rate(&all, file.sample_rate_hz(), to_hz);
    }
}

/// An error is one line that says something.
fn told(text: &str) {
    assert!(!text.trim().is_empty() && !text.contains('\n'), "{text:?}");
}

fn made(u: &mut Unstructured) -> Result<Vec<u8>> {
    let mut file = u.choose(SEEDS)?.to_vec();
    for _ in 0..u.int_in_range(0..=6)? {
        let at = place(file.len(), u)?;
        match u.int_in_range(0..=9)? {
            0 => file.truncate(at),
            1..=3 => put(&mut file, at, &[u.arbitrary()?]),
            4 => put(&mut file, at, &number(u)?.to_le_bytes()[..4]),
            5 => put(&mut file, at, &number(u)?.to_be_bytes()[4..]),
            6 => put(&mut file, at, &number(u)?.to_le_bytes()[..2]),
            7 => {
                let end = file.len().min(at + u.int_in_range(1..=64)?);
                drop(file.drain(at..end));
            }
            8 => {
                let part = u.bytes(u.len().min(8))?.to_vec();
                let _ = file.splice(at..at, part).count();
            }
            // A stretch of another file.
            _ => {
                let other = u.choose(SEEDS)?;
                let from = place(other.len(), u)?;
                let end = other.len().min(from + u.int_in_range(1..=512)?);
                let _ = file.splice(at..at, other[from..end].iter().copied()).count();
            }
        }
    }
    Ok(file)
}

/// A place, in the head more often than behind it.
fn place(length: usize, u: &mut Unstructured) -> Result<usize> {
    let most = if u.ratio(2, 3)? { length.min(100) } else { length };
    Ok(if most == 0 { 0 } else { u.choose_index(most)? })
}

fn put(file: &mut [u8], at: usize, bytes: &[u8]) {
    for (place, byte) in file.iter_mut().skip(at).zip(bytes) {
        *place = *byte;
    }
}

fn number(u: &mut Unstructured) -> Result<u64> {
    const NUMBERS: &[u64] =
        &[0, 1, 2, 7, 8, 16, 24, 32, 64, 0x7f, 0xff, 0x7fff, 0xffff, 0x7fff_ffff, 0xffff_ffff];
    Ok(if u.arbitrary()? { *u.choose(NUMBERS)? } else { u64::from(u.arbitrary::<u32>()?) })
}
