//! A session of several instances in one host: one a stem, and one on the sum of them.

use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use brunt_engine::parts::PartRole::{Bass, Drums, Guitars};
use brunt_engine::parts::{PartRole, PartRow, PartTrack, PartsReading, Session};
use brunt_engine::{Config, Hit, Meter, Thresholds};
use brunt_host::transport::{Changes, Tempo};
use brunt_host::{Audio, Block, Instance, Side, bundle};
use brunt_report::report::Report;
use rand::{Rng, SeedableRng};
use rand_pcg::Pcg64;

/// All instances of this program hear each other, so one session plays at a time.
static STAGE: Mutex<()> = Mutex::new(());

/// Longest wait for a reading.
const PATIENCE: Duration = Duration::from_secs(20);
/// Audio between two pauses, s: under the ring's length, however slow the machine.
const BREATH_S: f64 = 4.0;

/// A part to play: its name, what it plays, and its sound, a vector a channel.
#[derive(Clone)]
pub struct Stem {
    pub name: &'static str,
    pub role: PartRole,
    pub planes: Vec<Vec<f32>>,
}

/// One instance, activated.
pub struct Player {
    /// Goes before the plug-in does.
    audio: Option<Audio>,
    pub plugin: Instance,
    blocks: Vec<usize>,
}

/// The session.
pub struct Band {
    pub parts: Vec<Player>,
    pub mix: Player,
    pub rate_hz: f64,
    /// Fader of each part in the mix, behind its instance: linear.
    pub faders: Vec<f32>,
    /// Tempo and signature of the song.
    pub song: Changes,
    /// Whether the host tells tempo and bars beside its place.
    pub tells_bars: bool,
    _alone: MutexGuard<'static, ()>,
}

const ROLES: [PartRole; 5] = PartRole::ALL;
const LONGEST_BLOCK: u32 = 2048;

/// A fresh instance on a track of that name.
pub fn on_track(name: &str) -> Instance {
    let path = bundle::find().unwrap_or_else(|error| panic!("{error}"));
    Instance::load_on(&path, Some(name)).unwrap_or_else(|error| panic!("{error}"))
}

/// Gives an inactive instance the role of a part.
pub fn become_part(plugin: &mut Instance, role: PartRole) {
    let parameter = plugin.parameter("Role").expect("there");
    let index = ROLES.iter().position(|other| *other == role).expect("a role") + 1;
    plugin.set(&parameter, index as f64).expect("sets");
}

impl Band {
    /// Instances for all stems and the mix, activated. Block lengths differ from one to the next.
    pub fn new(stems: &[Stem], rate_hz: f64) -> Self {
        let alone = STAGE.lock().unwrap_or_else(PoisonError::into_inner);
        let lengths = [vec![512], vec![64, 1, 333], vec![2048], vec![480, 96], vec![1000, 17]];
        let parts = stems
            .iter()
            .enumerate()
            .map(|(k, stem)| {
                let mut plugin = on_track(stem.name);
                become_part(&mut plugin, stem.role);
                let audio = plugin.activate(rate_hz, LONGEST_BLOCK).expect("activates");
                Player { audio: Some(audio), plugin, blocks: lengths[k % lengths.len()].clone() }
            })
            .collect();
        let mut plugin = on_track("Mix");
        let audio = plugin.activate(rate_hz, LONGEST_BLOCK).expect("activates");
        let mix = Player { audio: Some(audio), plugin, blocks: vec![256] };
        let song = Changes(vec![(0.0, Tempo { bpm: 120.0, signature: (4, 4) })]);
        let faders = vec![1.0; stems.len()];
        Self { parts, mix, rate_hz, faders, song, tells_bars: true, _alone: alone }
    }

    /// Activates all instances anew at another rate, one after another.
    pub fn set_rate(&mut self, rate_hz: f64) {
        self.rate_hz = rate_hz;
        self.parts.iter_mut().chain([&mut self.mix]).for_each(|player| player.activate(rate_hz));
    }

    /// Plays the frames `from..to` of the stems at those places of the song, then goes on.
    pub fn play(&mut self, stems: &[Stem], from: usize, to: usize) {
        self.play_as(stems, from, to, true);
    }

    /// The same with the transport as the host tells it: `None` for a host without one.
    pub fn play_as(&mut self, stems: &[Stem], from: usize, to: usize, tells: bool) {
        let mix = sum(&at_faders(stems, &self.faders));
        let song = self.tells_bars.then(|| self.song.clone());
        let breath = (BREATH_S * self.rate_hz) as usize;
        for at in (from..to).step_by(breath) {
            let end = to.min(at + breath);
            for (player, stem) in self.parts.iter_mut().zip(stems) {
                player.play(&stem.planes, at, end, self.rate_hz, (tells, &song));
            }
            self.mix.play(&mix, at, end, self.rate_hz, (tells, &song));
            std::thread::sleep(Duration::from_millis(60));
        }
    }

    /// A second with the transport at rest, as after the stop button: the mix knows of a hit under half a
    /// second after it.
    pub fn stop(&mut self) {
        let still = Tempo { bpm: 120.0, signature: (4, 4) }.at(0.0, false);
        let silence = vec![0.0; 1000];
        let main = [&silence[..], &silence[..]];
        let side = Side::Channels(&main);
        let block = Block { main: &main, side, transport: Some(&still), ..Block::default() };
        for player in &mut self.parts {
            player.audio().process(&block).expect("processes");
        }
        for _ in 0..(self.rate_hz / 1000.0).ceil() as usize {
            self.mix.audio().process(&block).expect("processes");
        }
    }

    /// Presses Reset on the mix.
    pub fn reset_mix(&mut self) {
        let reset = self.mix.plugin.parameter("Reset").expect("there");
        // Longer than the 10 ms after which there is something to save.
        let silence = vec![0.0; 1024];
        let main = [&silence[..], &silence[..]];
        let changes = [reset.event(1.0)];
        let side = Side::Channels(&main);
        let block = Block { main: &main, side, changes: &changes, ..Block::default() };
        self.mix.audio().process(&block).expect("processes");
    }

    /// The mix's report as soon as `is_it` takes it for the one that is waited for.
    pub fn report(&mut self, what: &str, mut is_it: impl FnMut(&Report) -> bool) -> Report {
        let start = Instant::now();
        loop {
            let report = self.mix.plugin.save().expect("saves").report().expect("reads");
            match report {
                Some(report) if is_it(&report) => return report,
                last => {
                    let parts: Vec<_> = last
                        .iter()
                        .flat_map(|r| &r.parts)
                        .map(|p| (&p.file, p.onsets_s.len(), p.offset_ms, p.spread_ms))
                        .collect();
                    assert!(start.elapsed() < PATIENCE, "no report with {what}; last: {parts:?}");
                }
            }
            std::thread::sleep(Duration::from_millis(30));
        }
    }

    /// The report once every stem is in it with as many onsets as expected, and with the offsets.
    pub fn report_heard(&mut self, expected: &PartsReading, tracks: &[PartTrack]) -> Report {
        let rows = rows(expected, tracks);
        self.report("all stems", |report| heard(report, &rows))
    }

    /// The same once the costs are those expected, too: the last hit of the mix and the last cell of a part
    /// come after the last onset. Where they do not get there, the last report, for the caller to say in
    /// which number it differs.
    pub fn report_like(&mut self, expected: &PartsReading, tracks: &[PartTrack]) -> Report {
        let rows = rows(expected, tracks);
        let start = Instant::now();
        self.report("all stems", |report| {
            let priced = report.parts.iter().zip(&rows).all(|(part, (_, row))| {
                let (got, want) = (&part.leak_costs_db, &row.costs);
                same(got.timing, want.timing_db)
                    && same(got.clutter, want.clutter_db)
                    && same(got.drive, want.drive_db)
            });
            heard(report, &rows) && (priced || start.elapsed() > PATIENCE / 2)
        })
    }
}

/// What is expected of each part, in the order in which the mix bus lists them, and its onsets.
fn rows<'a>(expected: &'a PartsReading, tracks: &[PartTrack]) -> Vec<(usize, &'a PartRow)> {
    let order = order(tracks).into_iter();
    order.map(|k| (tracks[k].onsets.len(), &expected.rows[k])).collect()
}

/// Whether the onsets and offsets are in the report.
fn heard(report: &Report, rows: &[(usize, &PartRow)]) -> bool {
    let there = report.parts.iter().map(|part| (part.onsets_s.len(), part.offset_ms));
    there.eq(rows.iter().map(|(onsets, row)| (*onsets, row.offset_ms)))
}

impl Drop for Player {
    /// As a host removes a plug-in while it plays.
    fn drop(&mut self) {
        if let Some(audio) = &mut self.audio {
            audio.stop();
        }
    }
}

impl Player {
    /// The audio thread's side.
    pub fn audio(&mut self) -> &mut Audio {
        self.audio.as_mut().expect("active")
    }

    fn activate(&mut self, rate_hz: f64) {
        if let Some(audio) = self.audio.take() {
            self.plugin.deactivate(audio);
        }
        self.audio = Some(self.plugin.activate(rate_hz, LONGEST_BLOCK).expect("activates"));
    }

    fn play(
        &mut self,
        planes: &[Vec<f32>],
        from: usize,
        to: usize,
        rate_hz: f64,
        (tells, song): (bool, &Option<Changes>),
    ) {
        use clack_host::events::event_types::TransportFlags;
        // Connected, or a debug build of the framework writes a warning a block.
        let silence = vec![0.0; LONGEST_BLOCK as usize];
        let (mut at, mut lengths) = (from, self.blocks.clone().into_iter().cycle());
        while at < to {
            let end = to.min(at + lengths.next().expect("endless"));
            let main: Vec<&[f32]> = planes.iter().map(|plane| &plane[at..end]).collect();
            let side = [&silence[..end - at], &silence[..end - at]];
            let at_s = at as f64 / rate_hz;
            let plain = Tempo { bpm: 120.0, signature: (4, 4) };
            let mut transport = match song {
                Some(song) => song.at(at_s, true),
                None => plain.at(at_s, true),
            };
            if song.is_none() {
                transport.flags = TransportFlags::IS_PLAYING | TransportFlags::HAS_SECONDS_TIMELINE;
            }
            if !tells {
                transport.flags = TransportFlags::IS_PLAYING;
            }
            let block = Block {
                main: &main,
                side: Side::Channels(&side),
                transport: Some(&transport),
                ..Block::default()
            };
            self.audio().process(&block).expect("processes");
            at = end;
        }
    }
}

/// Stems as they lie in the mix.
pub fn at_faders(stems: &[Stem], faders: &[f32]) -> Vec<Stem> {
    let mut stems = stems.to_vec();
    for (stem, fader) in stems.iter_mut().zip(faders) {
        stem.planes.iter_mut().flatten().for_each(|x| *x *= fader);
    }
    stems
}

/// The sum of stems.
pub fn sum(stems: &[Stem]) -> Vec<Vec<f32>> {
    let mut mix = stems[0].planes.clone();
    for stem in &stems[1..] {
        for (sum, plane) in mix.iter_mut().zip(&stem.planes) {
            sum.iter_mut().zip(plane).for_each(|(sum, x)| *sum += x);
        }
    }
    mix
}

/// The stems measured as files are, in the order in which the mix bus lists them.
pub fn offline(stems: &[Stem], rate_hz: f64) -> Vec<PartTrack> {
    let config = Config { sample_rate_hz: rate_hz, channels: stems[0].planes.len() };
    let measure = |stem: &Stem| {
        let planes: Vec<&[f32]> = stem.planes.iter().map(Vec::as_slice).collect();
        PartTrack::measure(stem.role, stem.name, config, &planes).expect("a sound rate")
    };
    let tracks: Vec<PartTrack> = stems.iter().map(measure).collect();
    order(&tracks).into_iter().map(|k| tracks[k].clone()).collect()
}

/// The reading of such tracks in a mix that starts with them.
pub fn read(tracks: &[PartTrack], mix: &[Vec<f32>]) -> PartsReading {
    let config = Config { sample_rate_hz: tracks[0].sample_rate_hz, channels: mix.len() };
    let mut meter = Meter::new(config).expect("a sound rate");
    let mut hits: Vec<Hit> = Vec::new();
    let planes: Vec<&[f32]> = mix.iter().map(Vec::as_slice).collect();
    meter.process(&planes, None, &mut hits);
    meter.finish(&mut hits);
    let mut places: Vec<i64> = hits.iter().map(|hit| hit.frame as i64).collect();
    places.sort_unstable();
    Session { tracks: tracks.to_vec() }.read_at(&Thresholds::default(), &places)
}

fn order(tracks: &[PartTrack]) -> Vec<usize> {
    let mut order: Vec<usize> = (0..tracks.len()).collect();
    order.sort_by_key(|&k| (tracks[k].role, tracks[k].name.clone()));
    order
}

/// Rate of what is played, Hz.
pub const RATE_HZ: f64 = 48_000.0;

/// Decaying bursts of noise in both channels, one a time of `times_s`.
pub fn strokes(times_s: &[f64], seconds: f64, rate_hz: f64, seed: u64) -> Vec<Vec<f32>> {
    let mut random = Pcg64::seed_from_u64(seed);
    let mut plane = vec![0.0f32; (seconds * rate_hz) as usize];
    for time in times_s {
        let from = (time * rate_hz).round() as usize;
        for (k, x) in plane.iter_mut().skip(from).take((0.2 * rate_hz) as usize).enumerate() {
            let fall = (-(k as f64) / (0.03 * rate_hz)).exp();
            *x += (0.3 * fall * random.random_range(-1.0..1.0)) as f32;
        }
    }
    vec![plane.clone(), plane]
}

/// Every quarter second, `late_ms` late.
pub fn grid(seconds: f64, late_ms: f64) -> Vec<f64> {
    let count = (seconds * 4.0) as usize - 2;
    (0..count).map(|k| 0.25 + 0.25 * k as f64 + late_ms * 1e-3).collect()
}

/// Drums on the grid, bass 12 ms late, a guitar 7 ms early.
pub fn trio(seconds: f64, rate_hz: f64) -> Vec<Stem> {
    let stem = |name, role, late_ms, seed| Stem {
        name,
        role,
        planes: strokes(&grid(seconds, late_ms), seconds, rate_hz, seed),
    };
    vec![
        stem("Kit", Drums, 0.0, 1),
        stem("Low end", Bass, 12.0, 2),
        stem("Rhythm guitar", Guitars, -7.0, 3),
    ]
}

/// Frames of a time, s.
pub fn frames(seconds: f64) -> usize {
    (seconds * RATE_HZ) as usize
}

/// Whether two numbers are the same, or both unknown.
fn same(got: Option<f64>, want: Option<f64>) -> bool {
    match (got, want) {
        (None, None) => true,
        (Some(got), Some(want)) => (got - want).abs() < 1e-6,
        _ => false,
    }
}

/// Checks that two numbers are the same, or both unknown.
pub fn close(got: Option<f64>, want: Option<f64>, what: &str) {
    assert!(same(got, want), "{what}: {got:?} against {want:?} from files");
}
