//! Windows and limits of the alignment between main and side-chain.

/// Largest delay that is found, either way, s. Ours (design: 0-500 ms).
pub const ALIGN_REACH_S: f64 = 0.5;
/// Rate of the coarse search, Hz; the streams are decimated by a whole number to about this. Ours:
/// what is under 2.5 kHz settles the delay to within a tenth of a millisecond.
pub(crate) const COARSE_HZ: f64 = 6_000.0;
/// Samples of a coarse block. Ours: 21 ms.
pub(crate) const COARSE_BLOCK: usize = 128;
/// Time constant with which the coarse correlation forgets, s. Ours: a changed delay wins after
/// 0.7 s.
pub(crate) const COARSE_MEMORY_S: f64 = 1.0;
/// Pre-emphasis of the coarse streams, a first difference's share. Ours: music falls by about 4.5
/// dB an octave (Pestana et al. 2013), a first difference rises by 6.
pub(crate) const PRE_EMPHASIS: f32 = 0.95;
/// Coarse peak over the correlation's RMS from which it is worth a fine look. Ours: the largest of
/// 6,000 Gaussian values lies at 3.8 (closed form); music's repeats reach further.
pub(crate) const COARSE_PEAK_OVER_RMS: f32 = 5.0;
/// How far another coarse peak must stand over the one at the tracked delay to take its place, as a
/// factor. Ours.
pub(crate) const COARSE_RIVAL: f32 = 1.15;
/// How long the coarse search goes on while the delay that it found holds, s. Ours: twice its memory.
pub(crate) const SEARCH_S: f64 = 2.0;
/// How long it then rests before it looks around again, s. Ours: the fine look sees at once that a delay
/// holds no more; what this bounds is how long a repeat of the same drum is taken for the delay.
pub(crate) const SEARCH_RESTS_S: f64 = 8.0;
/// Shortest stretch of a fine block, s; the length is the next power of two. Ours: 1024 samples at
/// 48 kHz.
pub(crate) const FINE_LEAST_S: f64 = 0.016;
/// Time constant with which the fine spectra forget, s. Ours.
pub(crate) const FINE_MEMORY_S: f64 = 1.5;
/// What is kept of the streams beyond the reach, s. Ours: enough for a first judgement.
pub(crate) const LOOK_BACK_S: f64 = 0.75;
/// Level under the running mean at which a block says nothing, as a share of power. Ours: -50 dB.
pub(crate) const QUIET_SHARE: f32 = 1e-5;
/// Lower edge of the band that is compared, Hz. Ours: one bin and a half of the fine blocks.
pub(crate) const ALIGN_LOW_HZ: f64 = 70.0;
/// Upper edge of the band that is compared, Hz. Ours: lossy codecs leave nothing above 16 kHz.
pub(crate) const ALIGN_HIGH_HZ: f64 = 15_000.0;
/// Likeness (see [`Alignment`](crate::Alignment)) from which two streams are one programme. Ours:
/// over twelve songs the same programme read 0.907 or more through limiters (12 dB), equalisers
/// (9 dB shelves, 6 dB bell) and noise at -20 dB; other programmes 0.57 at most, and a programmed
/// song against its own other bars 0.84.
pub const FOUND_LIKENESS: f64 = 0.88;
/// Likeness under which a relation once found is given up. Ours: quiet passages under noise read
/// 0.77.
pub const GIVEN_UP_LIKENESS: f64 = 0.7;
/// Fine blocks behind the first judgement. Ours: 0.5 s; the bias of coherence is then 0.04.
pub(crate) const FOUND_LEAST_BLOCKS: f32 = 24.0;
/// Programme on both sides without a relation after which there is none, s. Ours: a relation is
/// found within 2 s.
pub const UNRELATED_S: f64 = 2.5;
