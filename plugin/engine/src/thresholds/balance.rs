//! Balance and mids.

/// Programme above the gate before the balance is judged, s. Ours: two bars at 96 beats a minute.
pub const BALANCE_LEAST_S: f64 = 5.0;
/// Factor of the mid deficit. Ours: with it a decibel of a wide dip near 700 Hz reads as 0.9 dB, of
/// a wider one as 1.05 dB.
pub(crate) const DEFICIT_SCALE: f64 = 1.6;
/// Mid deficit a decibel of a wide dip near 700 Hz (bell, Q 0.7), dB. Ours, from the corpus.
pub(crate) const DEFICIT_OF_DIP: f64 = 0.92;
/// Mid deficit a decibel of shelves near 60 Hz and 12 kHz together, dB. Ours, from the corpus.
pub(crate) const DEFICIT_OF_SHELVES: f64 = 0.87;
/// Share of finished records with less weak mids from which the mids are on watch without a reference,
/// %. Ours: one record in seven is on watch or leaks by construction.
pub const MIDS_WATCH_PERCENT: f64 = 85.0;
/// The same from which they leak, %. Ours: one record in twenty leaks by construction.
pub const MIDS_LEAKING_PERCENT: f64 = 95.0;
/// What a decibel of a wide dip near 700 Hz (bell, Q 0.7) adds to the dip of
/// [`Mids`](crate::Mids), dB. Ours, in closed form: its response in the third octaves.
pub(crate) const DIP_OF_DIP: f64 = 0.57;
/// What a decibel of shelves near 60 Hz and 12 kHz together adds to the lift of
/// [`Mids`](crate::Mids), dB. Ours, likewise.
pub(crate) const LIFT_OF_SHELVES: f64 = 0.60;
/// How much weaker than a reference track's mids must be to leak, dB; from half of it on they are on
/// watch. Ours: on 131 records a dip near 700 Hz of 9 dB moves the weakness by 3.4 to 5.3 dB (5th
/// to 95th percentile), shelves of 9 dB by 2.5 to 5.3 (`cargo xtask bench-records`).
pub const MIDS_BESIDE_DB: f64 = 2.5;
/// Scoop beyond the reference's from which the difference is one, dB. Ours: half of what a dip near 700 Hz
/// of 9 dB does; shelves do nothing to it.
pub(crate) const SCOOP_BESIDE_DB: f64 = 2.5;
/// Weight of the low end beside the high end in it. Ours: with it a tilt counts for next to nothing.
pub(crate) const LOW_END_SHARE: f64 = 0.6;
/// Power to which powers are raised for the mean of the low end. Ours: among the best of 0.1 to 1 on
/// 404 of those songs, none left out.
pub(crate) const LOW_END_POWER: f64 = 0.5;
/// Scoop from which it adds to the weakness, dB. Ours: over 90 % of the corpus' songs lie under it,
/// and a dip near 700 Hz of 9 dB puts them 5 dB higher.
pub(crate) const DIP_FROM_DB: f64 = 4.0;
/// What a decibel of scoop over that adds, dB. Ours: with it 98 % of the corpus' songs with a dip of
/// 9 dB are told weak, without it 95 %; more calls unchanged songs weak.
pub(crate) const DIP_WEIGHT: f64 = 0.25;
/// What a decibel of gaps in the mids takes from the weakness, dB. Ours: among the best of 0.1 to
/// 1.2 on the 654, none left out; unseen songs gained nothing by it, drums alone do.
pub(crate) const GAPS_WEIGHT: f64 = 0.6;
/// Tilt against the published curve from which a mix is dark or bright, dB an octave. Ours: over
/// 95 % of the corpus' songs, and under 95 % of them tilted by 1 dB an octave.
pub(crate) const TILT_DB: f64 = 0.55;
/// The same where the mids are weak. Ours: shelves near 60 Hz and 12 kHz are not of
/// one weight on every song, and tilt 95 % of the corpus' by less.
pub(crate) const TILT_WEAK_DB: f64 = 0.8;
/// How far under the strongest third octave of its range an empty one counts, dB. Ours: a codec's
/// corner must not read as a dark mix.
pub(crate) const THIRD_FLOOR_DB: f64 = 15.0;
/// Largest change of tone that is thought taken out for the cost, dB. Ours: about what an engineer
/// would still call a tone control.
pub(crate) const MOST_TAKEN_OUT_DB: f64 = 12.0;
/// 90 % range of the mids' cost, dB under and over the estimate. Ours: against the hits of the
/// corpus' songs with a dip or shelves of 9 dB, as they are and with what is unusual taken out.
pub(crate) const MIDS_COST_RANGE_DB: (f64, f64) = (0.9, 0.9);
