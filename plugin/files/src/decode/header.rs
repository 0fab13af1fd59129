//! The headers of WAV and AIFF, looked at before the decoder: it refuses what it does not take
//! without saying the value, and it finds a cut file only at its end.
//!
//! Forms: Multimedia Programming Interface and Data Specifications 1.0 (RIFF, WAVE); Audio
//! Interchange File Format 1.3 (AIFF, AIFC).

use std::fs::File;
use std::io::{self, BufReader, Read, Seek, SeekFrom};

use brunt_engine::MAX_CHANNELS;

use crate::error::Fault;

/// Length of a chunk that a program wrote into a pipe, not knowing how much would follow.
const LENGTH_OPEN: u32 = u32::MAX;
/// Chunks looked at before giving up: real files hold a few dozen.
const MOST_CHUNKS: usize = 4_096;

/// What the header says of the audio.
#[derive(Clone, Copy, Debug, Default)]
struct Found {
    channels: Option<u16>,
    rate: u32,
    frame_bytes: u64,
    /// Start and length of the audio data, bytes.
    data: Option<(u64, u64)>,
}

/// Checks channel count and data length of a WAV or AIFF file of `file_bytes` bytes, and that it is none of
/// the forms of WAV for more than 4 GiB. Anything else
/// passes: its own decoder knows better.
pub(super) fn check(file: &mut File, file_bytes: u64) -> Result<(), Fault> {
    let mut reader = BufReader::new(file);
    if let Some(form) = large_form(&mut reader) {
        return Err(Fault::LargeForm(form));
    }
    // A header that cannot be followed is left to the decoder, which says why it refuses it.
    let Ok(Some(found)) = look(&mut reader) else { return Ok(()) };
    if let Some(channels) = found.channels
        && !(1..=MAX_CHANNELS).contains(&usize::from(channels))
    {
        return Err(Fault::Channels(usize::from(channels)));
    }
    if let Some((start, length)) = found.data {
        let held = file_bytes.saturating_sub(start);
        if held < length && found.frame_bytes > 0 {
            return Err(Fault::CutShort {
                promised: length / found.frame_bytes,
                held: held / found.frame_bytes,
                rate: found.rate,
            });
        }
    }
    Ok(())
}

/// Name of a form of WAV for more than 4 GiB, which the decoder takes for damaged: RF64 (EBU Tech 3306), BW64
/// (ITU-R BS.2088) or W64, whose chunks have identifiers of 16 bytes. Leaves the reader at the start.
fn large_form(reader: &mut (impl Read + Seek)) -> Option<&'static str> {
    const W64: &[u8; 16] = b"riff\x2e\x91\xcf\x11\xa5\xd6\x28\xdb\x04\xc1\x00\x00";
    let mut head = [0; 16];
    let form = reader.read_exact(&mut head).ok().and(match &head {
        W64 => Some("W64"),
        head if head.starts_with(b"RF64") => Some("RF64"),
        head if head.starts_with(b"BW64") => Some("BW64"),
        _ => None,
    });
    reader.rewind().ok().and(form)
}

fn look(reader: &mut (impl Read + Seek)) -> io::Result<Option<Found>> {
    let mut head = [0; 12];
    reader.read_exact(&mut head)?;
    let (kind, form) = (&head[..4], &head[8..]);
    let little = match (kind, form) {
        (b"RIFF", b"WAVE") => true,
        (b"FORM", b"AIFF" | b"AIFC") => false,
        _ => return Ok(None),
    };
    let mut found = Found::default();
    let mut at = head.len() as u64;
    for _ in 0..MOST_CHUNKS {
        let mut chunk = [0; 8];
        if reader.read_exact(&mut chunk).is_err() {
            break;
        }
        let size = [chunk[4], chunk[5], chunk[6], chunk[7]];
        let size = if little { u32::from_le_bytes(size) } else { u32::from_be_bytes(size) };
        at += chunk.len() as u64;
        match &chunk[..4] {
            b"fmt " if little => wave_format(reader, &mut found)?,
            b"data" if little => {
                if size != LENGTH_OPEN {
                    found.data = Some((at, u64::from(size)));
                }
                break;
            }
            b"COMM" if !little => aiff_common(reader, &mut found)?,
            // Eight bytes of offset and block size stand before the samples.
            b"SSND" if !little => {
                found.data = Some((at + 8, u64::from(size).saturating_sub(8)));
            }
            _ => {}
        }
        // Chunks start at even places.
        at += u64::from(size) + u64::from(size % 2);
        reader.seek(SeekFrom::Start(at))?;
    }
    Ok(Some(found))
}

fn wave_format(reader: &mut impl Read, found: &mut Found) -> io::Result<()> {
    let mut b = [0; 16];
    reader.read_exact(&mut b)?;
    found.channels = Some(u16::from_le_bytes([b[2], b[3]]));
    found.rate = u32::from_le_bytes([b[4], b[5], b[6], b[7]]);
    found.frame_bytes = u64::from(u16::from_le_bytes([b[12], b[13]]));
    Ok(())
}

fn aiff_common(reader: &mut impl Read, found: &mut Found) -> io::Result<()> {
    let mut b = [0; 18];
    reader.read_exact(&mut b)?;
    let channels = u16::from_be_bytes([b[0], b[1]]);
    let bits = u16::from_be_bytes([b[6], b[7]]);
    found.channels = Some(channels);
    found.frame_bytes = u64::from(channels) * u64::from(bits.div_ceil(8));
    // The rate is an 80-bit float. A whole rate in Hz is its mantissa, shifted.
    let exponent = i32::from(u16::from_be_bytes([b[8], b[9]]) & 0x7fff) - 16_383;
    let mantissa = u32::from_be_bytes([b[10], b[11], b[12], b[13]]);
    found.rate = if (0..32).contains(&exponent) { mantissa >> (31 - exponent) } else { 0 };
    Ok(())
}
