//! Reads the sound packages' files: WAV, AIFF, FLAC.

use super::{CorpusError, Stereo};
use std::path::Path;
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, TrackType};
use symphonia::core::io::MediaSourceStream;
use symphonia::core::meta::MetadataOptions;

/// Decodes a whole file of one or two channels.
///
/// # Errors
/// [`CorpusError::File`] when it cannot be opened or decoded, or has more channels.
pub fn decode(path: &Path) -> Result<Stereo, CorpusError> {
    let fail = |why: &dyn std::fmt::Display| CorpusError::file(path, why);
    let file = std::fs::File::open(path).map_err(|e| fail(&e))?;
    let stream = MediaSourceStream::new(Box::new(file), Default::default());
    let mut format = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
        .map_err(|e| fail(&e))?;
    let track = format.default_track(TrackType::Audio).ok_or_else(|| fail(&"no audio track"))?;
    let id = track.id;
    let params = track
        .codec_params
        .as_ref()
        .and_then(|p| p.audio())
        .ok_or_else(|| fail(&"no audio parameters"))?;
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(params, &AudioDecoderOptions::default())
        .map_err(|e| fail(&e))?;
    let (mut samples, mut rate, mut channels) = (Vec::new(), 0, 0);
    let mut packet_samples: Vec<f32> = Vec::new();
    while let Some(packet) = format.next_packet().map_err(|e| fail(&e))? {
        if packet.track_id != id {
            continue;
        }
        let buffer = decoder.decode(&packet).map_err(|e| fail(&e))?;
        rate = buffer.spec().rate();
        channels = buffer.spec().channels().count();
        packet_samples.clear();
        buffer.copy_to_vec_interleaved(&mut packet_samples);
        samples.extend_from_slice(&packet_samples);
    }
    Stereo::from_interleaved(rate, channels, &samples)
        .ok_or_else(|| fail(&format!("{channels} channels, expected 1 or 2")))
}
