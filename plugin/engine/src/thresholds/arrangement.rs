//! Windows and limits of clutter, drive and their costs, each with its unit and its source.

/// Largest sample of a part that counts as silent, linear. Ours: -80 dBFS.
pub const SILENT_PEAK: f32 = 1e-4;

// Hits of an arrangement.

/// Level under the 90th percentile of the drum hits' levels from which a drum hit is one of the
/// main hits, dB. Ours: kick, snare and toms are in, hats and ghost notes are not.
pub const MAIN_HIT_DB: f64 = 10.0;
/// Fewest main hits for a cost. Ours: two bars of kick and snare in eighths, as for the ceiling.
pub const LEAST_MAIN_HITS: usize = 16;
/// Onsets of several drum parts closer than this are one hit, ms. Ours: the spacing of the onset
/// detector.
pub const SAME_HIT_MS: f64 = 25.0;
/// Bootstrap samples for a cost's range. Ours.
pub const BOOTSTRAPS: usize = 200;

// Clutter.

/// Distance within which two onsets fall together, ms. In a groove of several parts bass and
/// guitars are heard as apart from 31 to 35 ms on (doi:10.31234/osf.io/jsg94, 64 listeners). Ours: just
/// under it.
pub const SHARED_MS: f64 = 30.0;
/// Largest constant offset of a part that is taken out ahead of the matching, ms. Ours: lateness
/// is the timing leak's, and must not count twice.
pub const OFFSET_MOST_MS: f64 = 40.0;
/// Median distance from the offset up to which a part has an offset at all, ms. Ours.
pub const OFFSET_SPREAD_MS: f64 = 12.0;
/// Level of a part's onset under its loud ones (their 90th percentile) below which it is no note, dB.
/// Ours: ghost notes lie up to 20 dB under, the touch of a finger ahead of a bass note 27 dB.
pub const FAINT_DB: f64 = 24.0;
/// Distance from the nearest drum hit from which a note has a rhythm of its own, ms. Ours: clearly
/// more than [`SHARED_MS`] with jitter, and under a sixteenth at 180 beats a minute (83 ms).
pub const OWN_MS: f64 = 50.0;
/// Fewest onsets of a part before its rhythm is read. Ours.
pub const LEAST_ONSETS: usize = 8;
/// Start of the space behind a main hit, ms. Ours: as for the bed of a hit.
pub const SPACE_FROM_MS: u64 = 80;
/// End of the space behind a main hit, ms. Ours: as for the bed ahead of a hit.
pub const SPACE_TO_MS: u64 = 400;
/// Share of the main hits, of those at which it sounds, that a part holds through without striking
/// from which it is a layer that lies under the song. Ours: most of them.
pub const LAYER_HELD_SHARE: f64 = 0.5;
/// Share of a part's notes at the drums' main hits, or of the main hits that it strikes, from which
/// it plays with the drums. Ours: most of either; a riff on every eighth strikes all of a slow beat,
/// and off-beats strike none.
pub const LOCKED_SHARE: f64 = 0.5;
/// Distance from a part's notes within which a main hit is one that it could have struck, ms. Ours:
/// a part that rests for longer plays no rhythm there.
pub const PLAYS_NEAR_MS: f64 = 1_000.0;
/// Rhythms besides the drums' from which a song has too many at once: four rhythms at once are what
/// engineers hear first (common practice, no source). Ours: two that strike apart from the drums,
/// the drums' own and that of what strikes with them make four.
pub const OWN_RHYTHMS: usize = 2;
/// Furthest that a note is moved to play it with the drums, ms. Ours: a quarter note at 150 beats a
/// minute.
pub const MOVE_MOST_MS: f64 = 400.0;
/// How far a part is turned down in the table of what each part costs, dB. Ours: the step that an
/// engineer tries first.
pub const LOWER_DB: f64 = 3.0;
/// Rise of a part at a main hit from which it strikes there, dB. Ours: beating layers rise by 1 to
/// 2 dB, a chord struck again on a ringing one by 3 dB and more.
pub const STRIKE_DB: f64 = 2.5;
/// Share of shared onsets from which two guitar parts are one layer, doubled. Ours.
pub const DOUBLED_SHARE: f64 = 0.6;
/// Level under the sum at a hit from which a part sounds there, dB. Ours: 20 dB under it adds
/// 0.04 dB.
pub const SOUNDS_DB: f64 = 20.0;

/// Time ahead of a found onset from which a note counts, ms. Ours: the onset detector places
/// within this.
pub const NOTE_LEAD_MS: f64 = 4.0;

// Drive.

/// Centres of the window in which a note's sustain is read, ms after its onset, longest first;
/// the window reaches [`SUSTAIN_HALF_MS`] to both sides. Ours.
pub const SUSTAIN_AT_MS: [usize; 3] = [160, 110, 70];
/// Half of the sustain window, ms. Ours: about two beats of a low string's octave.
pub const SUSTAIN_HALF_MS: [usize; 3] = [30, 30, 20];
/// Factor that brings a drop read at each of [`SUSTAIN_AT_MS`] to the first. Ours: mean over
/// plucked strings with a decay of 20 dB/s through tanh at 0 to 30 dB of gain.
pub const SUSTAIN_FACTOR: [f64; 3] = [1.0, 1.35, 2.0];
/// Centre of the window in which the sustain of muted or short notes is read, ms. Ours: sixteenths
/// at 200 beats a minute last 75 ms.
pub const MUTED_AT_MS: usize = 55;
/// Half of that window, ms. Ours.
pub const MUTED_HALF_MS: usize = 20;
/// Longest stretch of a note for its crest factor, ms. Ours.
pub const CREST_MS: usize = 150;
/// Fall within a note from which it was muted by the palm or stopped, dB/s. Ours: an open string
/// falls by 15 to 30 dB/s, a muted one by 100 dB/s, or half of that through much gain.
pub const MUTED_DB_PER_S: f64 = 38.0;
/// Drop at 160 ms over which a note was muted or stopped, dB. Ours: open strings without any gain
/// read 3.5 to 5 dB.
pub const HELD_DROP_MOST_DB: f64 = 6.5;
/// Least share of held notes among those that are long enough. Ours.
pub const HELD_SHARE: f64 = 0.33;
/// Level under the loudest 10 ms within which a part plays, dB. Ours.
pub const PLAYING_DB: f64 = 40.0;
/// Fewest stretches of 10 ms, one each 5 ms, in which a part plays, for its level spread. Ours: 2 s.
pub const SPREAD_LEAST: usize = 400;
/// Fewest held notes for a reading. Ours.
pub const LEAST_NOTES: usize = 8;
/// Difference of two takes' drops from which one has more attack, dB. Ours: half of the smallest
/// step between tanh gains 6 dB apart, from 0 to 24 dB.
pub const TAKES_DIFFER_DB: f64 = 0.25;
/// Difference of two takes' level spreads from which one has more attack, dB. Ours: four
/// performances of one riff at one gain differ by a standard deviation of 0.13 dB without gain and
/// of 0.04 dB at 18 dB of it; 6 dB of gain make 0.2 to 0.6 dB.
pub const SPREADS_DIFFER_DB: f64 = 0.15;
/// Rise at an onset of a guitar or bass from which it is a stroke of the string, dB. Ours: on
/// saturated guitars 90 % of the strokes rise by 0.3 dB and more, 90 % of the onsets that are none by
/// less than 0.2 dB.
pub const STROKE_RISE_DB: f64 = 0.25;
/// Cells of a stroke whose bands tell which drum it is. Ours: a kick's body needs two periods of 60 Hz.
pub(crate) const STROKE_CELLS: usize = 40;
/// Cells before it that are taken off. Ours: the tail of the stroke before.
pub(crate) const STROKE_BEFORE_CELLS: usize = 20;
/// Share of the low band in what a stroke brings from which it is a kick. Ours: chosen on the twelve
/// written songs; with one song left out in turn 7 % of the strokes are named wrong, and 95 % of the
/// kicks and snares are named.
pub(crate) const KICK_LOW_SHARE: f32 = 0.48;
/// Share of the high band up to which a stroke is a snare and no hat or cymbal. Ours: 95 % of the
/// snares of these songs lie under it.
pub(crate) const SNARE_HIGH_SHARE: f32 = 0.35;
/// Distance under the loud ones of its drum within which a stroke counts, dB. Ours: ghost notes are
/// softer.
pub(crate) const STROKE_BELOW_DB: f32 = 10.0;
