//! Who plays what and when. Time is counted in sixteenths from the start of the song.

/// Sixteenths in a bar.
pub const BAR: f64 = 16.0;
/// Bars ahead of the last chord.
const BARS: usize = 16;

/// What is struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Drum {
    /// Bass drum.
    Kick,
    /// Snare drum.
    Snare,
    /// Tom, 0 the highest of three.
    Tom(u8),
    /// Closed hi-hat.
    Hat,
    /// Open hi-hat.
    OpenHat,
    /// Crash cymbal.
    Crash,
    /// Ride cymbal.
    Ride,
}

/// One stroke.
#[derive(Clone, Copy, Debug)]
pub struct Stroke {
    /// What is struck.
    pub drum: Drum,
    /// When, sixteenths.
    pub step: f64,
    /// How hard, dB, 0 a full stroke.
    pub level_db: f64,
}

/// How a string is played.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touch {
    /// Let ring.
    Open,
    /// Damped by the palm.
    Muted,
}

/// One note of a string, voice or key.
#[derive(Clone, Copy, Debug)]
pub struct Note {
    /// When, sixteenths.
    pub step: f64,
    /// How long, sixteenths.
    pub length: f64,
    /// MIDI note number; 69 is 440 Hz.
    pub pitch: f64,
    /// How hard, dB.
    pub level_db: f64,
    /// How a string is played.
    pub touch: Touch,
}

/// A sung note.
#[derive(Clone, Copy, Debug)]
pub struct Sung {
    /// Pitch and time.
    pub note: Note,
    /// Its vowel: one of `aeiou`.
    pub vowel: char,
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Section {
    Intro,
    Verse,
    Chorus,
}

fn section(bar: usize) -> Section {
    match bar {
        0..2 => Section::Intro,
        2..8 => Section::Verse,
        _ => Section::Chorus,
    }
}

/// Lowest note of the guitars' chord in each bar, the last chord included (MIDI).
const ROOTS: [f64; BARS + 1] = [
    40.0, 40.0, // intro: E
    40.0, 40.0, 43.0, 45.0, 40.0, 43.0, // verse: E E G A E G
    48.0, 43.0, 50.0, 40.0, 48.0, 43.0, 50.0, 47.0, // chorus: C G D E C G D B
    40.0,
];

/// In patterns: `X` an accent, `x` a normal stroke, `g` a ghost note, `.` nothing.
fn hits(pattern: &str) -> impl Iterator<Item = (f64, f64)> + '_ {
    pattern.bytes().enumerate().filter_map(|(step, mark)| {
        let level = match mark {
            b'X' | b'O' | b'M' => 0.0,
            b'x' | b'o' | b'm' => -3.0,
            b'g' => -17.0,
            _ => return None,
        };
        Some((step as f64, level))
    })
}

/// Every stroke of the kit, in no order.
pub fn strokes() -> Vec<Stroke> {
    let mut all = Vec::new();
    let mut play = |drum, bar: usize, pattern: &str| {
        all.extend(hits(pattern).map(|(step, level_db)| Stroke {
            drum,
            step: bar as f64 * BAR + step,
            level_db,
        }));
    };
    for bar in 0..BARS {
        let fill = bar == 7 || bar == 15;
        match section(bar) {
            Section::Intro | Section::Verse => {
                play(Drum::Kick, bar, if fill { "X..x..X........." } else { "X..x..X...X....." });
                play(Drum::Snare, bar, if fill { "....X...X.x....." } else { "....X..g.g..X..g" });
                play(Drum::Hat, bar, if fill { "X.x.X.x........." } else { "X.x.X.x.X.x.X.x." });
            }
            Section::Chorus => {
                play(Drum::Kick, bar, if fill { "X..X..X........." } else { "X..X..X.x.X....." });
                play(Drum::Snare, bar, if fill { "....X...X.X....." } else { "....X.......X..." });
                play(Drum::Ride, bar, if fill { "X.x.X.x........." } else { "X.x.X.x.X.x.X.x." });
            }
        }
        if fill {
            play(Drum::Tom(0), bar, "...........Xx...");
            play(Drum::Tom(1), bar, ".............Xx.");
            play(Drum::Tom(2), bar, "...............X");
        }
        if matches!(bar, 0 | 8 | 12) {
            play(Drum::Crash, bar, "X...............");
        }
        if bar % 4 == 1 {
            play(Drum::OpenHat, bar, "..............x.");
        }
    }
    play(Drum::Kick, BARS, "X");
    play(Drum::Snare, BARS, "x");
    play(Drum::Crash, BARS, "X");
    for beat in 1..4 {
        // The count-in, in the bar ahead of the first.
        let step = 4.0 * f64::from(beat) - BAR;
        all.push(Stroke { drum: Drum::Hat, step, level_db: -3.0 });
    }
    all
}

/// Both guitars' rhythm: the lowest note of every chord.
pub fn guitar() -> Vec<Note> {
    let mut all = Vec::new();
    for bar in 0..BARS {
        // Capitals ring, small letters are muted; both on the kick and around the snare.
        let pattern = match section(bar) {
            Section::Intro => "O..m..O...O..m..",
            Section::Verse if bar == 7 => "M..m..O.........",
            Section::Verse => "M..m..M...M..m..",
            Section::Chorus if bar == 15 => "O..O..O.........",
            Section::Chorus => "O..O..O...O...m.",
        };
        phrase(&mut all, bar, pattern, ROOTS[bar]);
    }
    phrase(&mut all, BARS, "O...............", ROOTS[BARS]);
    all
}

/// The bass: with the kick, an octave under the guitars.
pub fn bass() -> Vec<Note> {
    let mut all = Vec::new();
    for bar in 0..BARS {
        let pattern = match section(bar) {
            Section::Intro | Section::Verse if bar == 7 => "O..o..O.........",
            Section::Intro | Section::Verse => "O..o..O...O...o.",
            Section::Chorus if bar == 15 => "O..O..O.........",
            Section::Chorus => "O..O..O.o.O...o.",
        };
        phrase(&mut all, bar, pattern, ROOTS[bar] - 12.0);
    }
    phrase(&mut all, BARS, "O...............", ROOTS[BARS] - 12.0);
    all
}

fn phrase(all: &mut Vec<Note>, bar: usize, pattern: &str, root: f64) {
    let starts: Vec<_> = hits(pattern).collect();
    for (index, (step, level_db)) in starts.iter().enumerate() {
        let until = starts.get(index + 1).map_or(pattern.len() as f64, |next| next.0);
        let mark = pattern.as_bytes()[*step as usize];
        let touch = if matches!(mark, b'm' | b'M') { Touch::Muted } else { Touch::Open };
        all.push(Note {
            step: bar as f64 * BAR + step,
            // A strum makes room for the snare that follows it.
            length: (until - step).min(if touch == Touch::Open { 16.0 } else { 1.5 }),
            pitch: root,
            level_db: *level_db,
            touch,
        });
    }
}

/// The chord's three notes in the middle register, for pad and layers, with the bar's start.
pub fn chords() -> Vec<(f64, [f64; 3])> {
    ROOTS
        .iter()
        .enumerate()
        .map(|(bar, root)| {
            let base = if *root < 45.5 { root + 12.0 } else { *root };
            // E, A and B carry a minor third in this song, C, D and G a major one.
            let third = if matches!(*root as u32 % 12, 4 | 9 | 11) { 3.0 } else { 4.0 };
            (bar as f64 * BAR, [base, base + third, base + 7.0])
        })
        .collect()
}

/// First bar of the chorus, sixteenths.
pub const CHORUS: f64 = 8.0 * BAR;

/// The lead's melody.
pub fn lead() -> Vec<Sung> {
    const MELODY: &[(f64, f64, f64, f64, char)] = &[
        // bar, step, length, pitch, vowel
        (2.0, 4.0, 3.0, 59.0, 'a'),
        (2.0, 8.0, 2.0, 62.0, 'e'),
        (2.0, 10.0, 4.0, 64.0, 'o'),
        (3.0, 2.0, 2.0, 64.0, 'e'),
        (3.0, 4.0, 4.0, 62.0, 'a'),
        (3.0, 10.0, 4.0, 59.0, 'o'),
        (4.0, 4.0, 3.0, 62.0, 'a'),
        (4.0, 8.0, 2.0, 62.0, 'e'),
        (4.0, 10.0, 5.0, 59.0, 'u'),
        (5.0, 2.0, 2.0, 60.0, 'e'),
        (5.0, 4.0, 4.0, 64.0, 'a'),
        (5.0, 10.0, 4.0, 64.0, 'i'),
        (6.0, 4.0, 3.0, 59.0, 'a'),
        (6.0, 8.0, 2.0, 62.0, 'e'),
        (6.0, 10.0, 4.0, 64.0, 'o'),
        (7.0, 0.0, 5.0, 67.0, 'a'),
        (7.0, 6.0, 6.0, 64.0, 'o'),
        (8.0, 0.0, 6.0, 67.0, 'a'),
        (8.0, 6.0, 4.0, 64.0, 'e'),
        (8.0, 12.0, 4.0, 64.0, 'o'),
        (9.0, 0.0, 7.0, 71.0, 'a'),
        (9.0, 8.0, 6.0, 67.0, 'o'),
        (10.0, 0.0, 6.0, 69.0, 'a'),
        (10.0, 6.0, 4.0, 66.0, 'e'),
        (10.0, 12.0, 4.0, 69.0, 'o'),
        (11.0, 0.0, 10.0, 71.0, 'a'),
        (11.0, 12.0, 2.0, 69.0, 'e'),
        (11.0, 14.0, 2.0, 67.0, 'i'),
        (12.0, 0.0, 6.0, 67.0, 'a'),
        (12.0, 6.0, 4.0, 64.0, 'e'),
        (12.0, 12.0, 4.0, 64.0, 'o'),
        (13.0, 0.0, 7.0, 71.0, 'a'),
        (13.0, 8.0, 6.0, 71.0, 'i'),
        (14.0, 0.0, 6.0, 69.0, 'a'),
        (14.0, 6.0, 4.0, 66.0, 'e'),
        (14.0, 12.0, 3.0, 66.0, 'o'),
        (15.0, 0.0, 11.0, 66.0, 'a'),
        (16.0, 0.0, 12.0, 64.0, 'a'),
    ];
    MELODY
        .iter()
        .map(|&(bar, step, length, pitch, vowel)| Sung {
            note: Note { step: bar * BAR + step, length, pitch, level_db: 0.0, touch: Touch::Open },
            vowel,
        })
        .collect()
}
