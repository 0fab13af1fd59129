//! Audio files as blocks of samples, in bounded memory.

mod header;

use std::fs::File;
use std::io::{ErrorKind, Seek, SeekFrom};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};

use brunt_engine::{MAX_CHANNELS, MAX_SAMPLE_RATE_HZ, MIN_SAMPLE_RATE_HZ};
use symphonia::core::codecs::CodecParameters;
use symphonia::core::codecs::audio::{AudioDecoder, AudioDecoderOptions};
use symphonia::core::errors::Error as DecoderError;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::well_known::{FORMAT_ID_MP3, FORMAT_ID_OGG};
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

use crate::error::{Error, Fault};

/// Frames of one MPEG audio frame, the grain of an MP3's promised length (ISO/IEC 11172-3).
const MPEG_FRAMES: u64 = 1_152;

/// An open audio file, mono or stereo, read from its start.
pub struct AudioFile {
    path: PathBuf,
    format: Box<dyn FormatReader>,
    decoder: Box<dyn AudioDecoder>,
    track: u32,
    rate: u32,
    channels: usize,
    frames: Option<u64>,
    promise: Promise,
    read: u64,
}

/// How far a file's own statement of its length binds.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Promise {
    /// Nothing is said, or only an estimate: the end is where the data ends.
    None,
    /// This many frames, less at most the second number.
    Frames(u64, u64),
    /// The format has an end mark, and it is missing.
    MarkMissing,
}

impl AudioFile {
    /// Opens a file and checks everything that its header tells.
    ///
    /// # Errors
    /// One [`Fault`]: missing, directory, unreadable, empty, not audio, channels, sample rate, or
    /// cut short as far as the header shows.
    pub fn open(path: &Path) -> Result<Self, Error> {
        let fault = |fault: Fault| fault.of(path);
        let mut file = File::open(path).map_err(|e| {
            fault(match e.kind() {
                ErrorKind::NotFound => Fault::Missing,
                _ => Fault::Unreadable(e),
            })
        })?;
        let meta = file.metadata().map_err(|e| fault(Fault::Unreadable(e)))?;
        if meta.is_dir() {
            return Err(fault(Fault::Directory));
        }
        if meta.is_file() && meta.len() == 0 {
            return Err(fault(Fault::Empty));
        }
        if meta.is_file() {
            header::check(&mut file, meta.len()).map_err(fault)?;
            file.seek(SeekFrom::Start(0)).map_err(|e| fault(Fault::Unreadable(e)))?;
        }
        Self::probe(path, file).map_err(fault)
    }

    fn probe(path: &Path, file: File) -> Result<Self, Fault> {
        let mut hint = Hint::new();
        if let Some(extension) = path.extension().and_then(|e| e.to_str()) {
            hint.with_extension(extension);
        }
        let stream = MediaSourceStream::new(Box::new(file), Default::default());
        let format = theirs(|| {
            let (format, meta) = (FormatOptions::default(), MetadataOptions::default());
            symphonia::default::get_probe().probe(&hint, stream, format, meta)
        })
        .map_err(|e| Fault::NotAudio(reason(&e)))?;
        let none = || Fault::NotAudio("no audio track".to_owned());
        let track = format.default_track(TrackType::Audio).ok_or_else(none)?;
        let Some(CodecParameters::Audio(params)) = &track.codec_params else { return Err(none()) };
        let rate = params.sample_rate.unwrap_or(0);
        if !(MIN_SAMPLE_RATE_HZ..=MAX_SAMPLE_RATE_HZ).contains(&f64::from(rate)) {
            return Err(Fault::SampleRate(rate));
        }
        let channels = params.channels.as_ref().map_or(0, |c| c.count());
        if !(1..=MAX_CHANNELS).contains(&channels) {
            return Err(Fault::Channels(channels));
        }
        let promise = match (format.format_info().format, track.num_frames) {
            // Without the encoder's tag, the length of an MP3 is an estimate from its bit rate.
            (FORMAT_ID_MP3, Some(frames)) if track.delay.is_some() => {
                Promise::Frames(frames, MPEG_FRAMES)
            }
            (FORMAT_ID_MP3, _) => Promise::None,
            // The reader takes the length from the last page, and only where it is marked as last.
            (FORMAT_ID_OGG, None) => Promise::MarkMissing,
            (_, Some(frames)) => Promise::Frames(frames, 0),
            (_, None) => Promise::None,
        };
        let decoder = theirs(|| {
            let options = AudioDecoderOptions::default().verify(true);
            symphonia::default::get_codecs().make_audio_decoder(params, &options)
        })
        .map_err(|e| Fault::NotAudio(reason(&e)))?;
        Ok(Self {
            path: path.to_owned(),
            track: track.id,
            rate,
            channels,
            frames: track.num_frames,
            promise,
            read: 0,
            decoder,
            format,
        })
    }

    /// Sample rate, Hz, within the engine's range.
    #[must_use]
    pub fn sample_rate_hz(&self) -> u32 {
        self.rate
    }

    /// Channels: 1 or 2.
    #[must_use]
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// Length in frames as the file states or suggests it. For showing progress.
    #[must_use]
    pub fn stated_frames(&self) -> Option<u64> {
        self.frames
    }

    /// Reads the next packet into `planes`, one vector a channel. `false` at the end of the file.
    ///
    /// # Errors
    /// A packet that cannot be decoded, or an end before the promised one.
    pub fn next_block(&mut self, planes: &mut Vec<Vec<f32>>) -> Result<bool, Error> {
        self.packet(planes).map_err(|fault| fault.of(&self.path))
    }

    fn packet(&mut self, planes: &mut Vec<Vec<f32>>) -> Result<bool, Fault> {
        loop {
            let packet = match theirs(|| self.format.next_packet()) {
                Ok(Some(packet)) => packet,
                Ok(None) => return self.end().map(|()| false),
                Err(DecoderError::IoError(e)) if e.kind() == ErrorKind::UnexpectedEof => {
                    return self.end().map(|()| false);
                }
                Err(e) => {
                    let at_s = self.seconds(self.read);
                    return Err(Fault::Damaged { at_s, reason: reason(&e) });
                }
            };
            if packet.track_id != self.track {
                continue;
            }
            let at_s = self.seconds(self.read);
            let decoder = &mut self.decoder;
            let block = theirs(move || decoder.decode(&packet))
                .map_err(|e| Fault::Damaged { at_s, reason: reason(&e) })?;
            let (channels, rate) = (block.spec().channels().count(), block.spec().rate());
            if (channels, rate) != (self.channels, self.rate) {
                let reason = format!("changes to {channels} channels at {rate} Hz");
                return Err(Fault::Damaged { at_s, reason });
            }
            if block.frames() == 0 {
                continue;
            }
            self.read += block.frames() as u64;
            block.copy_to_vecs_planar(planes);
            return Ok(true);
        }
    }

    /// Whether the file may end here.
    fn end(&mut self) -> Result<(), Fault> {
        match self.promise {
            Promise::Frames(promised, slack) if self.read.saturating_add(slack) < promised => {
                return Err(Fault::CutShort { promised, held: self.read, rate: self.rate });
            }
            Promise::MarkMissing => {
                return Err(Fault::NoEndMark { held_s: self.seconds(self.read) });
            }
            Promise::None | Promise::Frames(..) => {}
        }
        match self.decoder.finalize().verify_ok {
            Some(false) => Err(Fault::Checksum),
            Some(true) | None => Ok(()),
        }
    }

    fn seconds(&self, frames: u64) -> f64 {
        frames as f64 / f64::from(self.rate)
    }
}

/// What the decoders' crate does, and an error where it panics: a damaged file must not end more than
/// the reading of it.
fn theirs<T>(work: impl FnOnce() -> Result<T, DecoderError>) -> Result<T, DecoderError> {
    catch_unwind(AssertUnwindSafe(work))
        .unwrap_or(Err(DecoderError::DecodeError("the decoder failed on it")))
}

/// The decoder's reason without its kind, which the message states in its own words.
fn reason(e: &DecoderError) -> String {
    match e {
        DecoderError::DecodeError(text)
        | DecoderError::Unsupported(text)
        | DecoderError::LimitError(text) => (*text).to_owned(),
        DecoderError::IoError(e) if e.kind() == ErrorKind::UnexpectedEof => {
            "the file ends too early".to_owned()
        }
        DecoderError::IoError(e) => e.to_string(),
        DecoderError::SeekError(_) => "cannot seek".to_owned(),
        DecoderError::ResetRequired => "a second stream begins".to_owned(),
        other => other.to_string(),
    }
}
