use brunt_engine::parts::RoleSuggestion;
use brunt_engine::{Ceiling, CeilingKind, Config, Need, Readings, State, Thresholds};
use brunt_report::report::{PartCeilingReport, Report, Source};

use super::super::linked::Hearing;
use super::super::publisher::Publisher;
use super::*;
use crate::song::Cue;

const CONFIG: Config = Config { sample_rate_hz: 48_000.0, channels: 1 };
const SECOND: usize = 48_000;

/// Bursts of noise each quarter second, `late_ms` late, from the place `from` in the song on.
fn strokes(from: usize, seconds: usize, late_ms: usize) -> Vec<f32> {
    (from..from + seconds * SECOND)
        .map(|n| {
            let since = (n + SECOND - late_ms * 48) % (SECOND / 4);
            let noise = (n * 7_919 % 1_009) as f32 / 504.5 - 1.0;
            0.4 * noise * (-(since as f32) / 1_400.0).exp()
        })
        .collect()
}

fn player(number: u64, role: Role) -> Publisher {
    let entry = Arc::new(Entry::default());
    entry.set_number(number);
    entry.set_role(role);
    let mut publisher = Publisher::new(entry);
    publisher.activate(CONFIG).expect("a sound rate");
    publisher
}

fn play(player: &mut Publisher, from: usize, audio: &[f32]) {
    for (k, block) in audio.chunks(512).enumerate() {
        let song_frame = Some((from + 512 * k) as i64);
        let cue = Cue { playing: true, song_frame, ..Cue::default() };
        player.process(&[block], &cue, true);
    }
}

fn stop(player: &mut Publisher) {
    player.process(&[&[0.0; 16]], &Cue::default(), true);
}

fn entries(players: &[&Publisher]) -> Vec<Arc<Entry>> {
    players.iter().map(|player| Arc::clone(player.entry())).collect()
}

#[test]
fn a_part_is_read_against_its_side_chain_without_any_link() {
    let (mut own, mut side) = (player(1, Role::Guitars), player(0, Role::Mix));
    side.entry().set_own_name("Side-chain");
    own.entry().set_partner(Arc::clone(side.entry()));
    own.entry().set_partnered(true);
    let mut reader = Reader::default();
    assert_eq!(reader.look(&entries(&[&own])), LOOK);
    assert_eq!(own.entry().linked().1.hearing(), Hearing::NotHeard);
    play(&mut own, 0, &strokes(0, 8, 15));
    play(&mut side, 0, &strokes(0, 8, 0));
    stop(&mut own);
    stop(&mut side);
    reader.mixes.clear();
    reader.look(&entries(&[&own]));
    let (_, linked) = own.entry().linked();
    let [drums, guitars] = &linked.parts[..] else { panic!("{linked:?}") };
    assert!(drums.reference && drums.name == "Side-chain");
    let late = guitars.offset_ms.expect("known");
    assert!((late - 15.0).abs() < 1.0, "{late} ms");
    assert_ne!(linked.reading.as_ref().expect("read").leaks[0].state, State::Unknown);
    own.entry().reset();
    reader.look(&entries(&[&own]));
    assert_eq!(own.entry().restarts(), 0, "its own reset is no mix's");
    own.entry().set_partnered(false);
    reader.mixes.clear();
    reader.look(&entries(&[&own]));
    assert!(own.entry().linked().1.parts.is_empty());
}

/// While the song stands nothing comes but the reset itself, and the mix lets the part go with it.
#[test]
fn a_part_that_is_reset_leaves_the_mixes_reading_at_once() {
    let (mix, mut drums, mut bass) =
        (player(1, Role::Mix), player(2, Role::Drums), player(3, Role::Bass));
    let mut reader = Reader::default();
    for player in [&mut drums, &mut bass] {
        play(player, 0, &strokes(0, 8, 0));
        stop(player);
    }
    let mut heard = || {
        for mix in reader.mixes.values_mut() {
            mix.read = None;
        }
        reader.look(&entries(&[&mix, &drums, &bass]));
        let (_, linked) = mix.entry().linked();
        linked.parts.iter().map(|part| part.status).collect::<Vec<_>>()
    };
    assert_eq!(heard(), [PartStatus::Heard; 2]);
    bass.entry().reset();
    assert_eq!(heard(), [PartStatus::Heard, PartStatus::Waiting]);
}

/// What was heard is marked with the looks: were they counted from 1 again, a reset would forget nothing.
#[test]
fn a_reader_that_starts_anew_goes_on_counting() {
    let (mix, mut drums) = (player(1, Role::Mix), player(2, Role::Drums));
    let mut reader = Reader::default();
    reader.look(&entries(&[&mix, &drums]));
    play(&mut drums, 0, &strokes(0, 4, 0));
    stop(&mut drums);
    reader.look(&entries(&[&mix, &drums]));
    let mut reader = reader.renewed();
    reader.look(&entries(&[&mix, &drums]));
    assert_eq!(mix.entry().linked().1.parts[0].status, PartStatus::Heard);
    mix.entry().reset();
    reader.mixes.values_mut().for_each(|mix| mix.read = None);
    reader.look(&entries(&[&mix, &drums]));
    assert_eq!(mix.entry().linked().1.parts[0].status, PartStatus::Waiting);
}

/// What a part's own window says, as the file would; on the mix bus and after a reset nothing.
#[test]
fn a_part_hears_what_it_sounds_like() {
    let mut own = player(1, Role::Bass);
    let mut reader = Reader::default();
    let audio = strokes(0, 16, 0);
    play(&mut own, 0, &audio);
    stop(&mut own);
    reader.look(&entries(&[&own]));
    let track = PartTrack::measure(PartRole::Bass, "", CONFIG, &[&audio]).expect("a rate");
    let expected = RoleSuggestion::of(&track).expect("clear enough");
    assert_eq!(expected.role, PartRole::Drums);
    let sounds = own.entry().linked().1.own.expect("clear enough");
    assert_eq!(sounds.role, expected.role);
    assert!((sounds.log_odds - expected.log_odds).abs() < 0.1, "{sounds:?} {expected:?}");
    own.entry().reset();
    reader.look(&entries(&[&own]));
    assert_eq!(own.entry().linked().1.own, None, "forgotten");
    play(&mut own, 0, &audio);
    own.entry().set_role(Role::Mix);
    reader.look(&entries(&[&own]));
    assert_eq!(own.entry().linked().1.own, None, "a mix sounds like nothing but a mix");
}

/// What the drums measure of their own hits reaches mix and report without a reading, no other
/// part's does, and a mix that is told to forget forgets it.
#[test]
fn the_drums_own_ceiling_is_heard_on_the_mix() {
    let (mix, mut drums, mut bass) =
        (player(1, Role::Mix), player(2, Role::Drums), player(3, Role::Bass));
    let mut reader = Reader::default();
    let mut look = |drums: &Publisher, bass: &Publisher| {
        reader.look(&entries(&[&mix, drums, bass]));
        mix.entry().linked().1
    };
    for part in [&mut drums, &mut bass] {
        play(part, 0, &strokes(0, 8, 0));
        stop(part);
    }
    assert!(look(&drums, &bass).parts.iter().all(|part| part.ceiling.is_none()));
    let told = Ceiling {
        state: State::Leaking,
        kind: Some(CeilingKind::Limiter),
        implied_reduction_db: Some(5.0),
        ..Ceiling::default()
    };
    // More often than the ring has room: what had none is told again with the next block.
    for part in [&mut drums, &mut bass] {
        for k in 0..200 {
            let db = 5.0 + f64::from(k);
            part.tell_ceiling(&Ceiling { implied_reduction_db: Some(db), ..told });
        }
    }
    assert_ne!(look(&drums, &bass).parts[0].ceiling, None);
    for part in [&mut drums, &mut bass] {
        part.tell_ceiling(&told);
    }
    let linked = look(&drums, &bass);
    assert_eq!(linked.parts[0].ceiling, Some(PartCeilingReport::from(&told)));
    assert_eq!(linked.parts[1].ceiling, None);
    let (readings, source) = (Readings::default(), Source::default());
    let mut report = Report::new(source, &readings, &[], Thresholds::default());
    linked.add_to(&mut report, &readings.leaks, 10);
    assert_eq!(report.parts[0].ceiling, linked.parts[0].ceiling);
    let text = serde_json::to_string(&linked.kept()).expect("writes");
    let saved: Linked = serde_json::from_str(&text).expect("reads");
    assert_eq!(saved, linked.kept(), "as a session keeps it");
    assert!(report.leaks.ceiling.leak.advice.starts_with(words::EASE_THE_DRUMS));
    for (mix_follows, role, followed) in
        [(true, Role::Drums, true), (true, Role::Mix, false), (false, Role::Drums, false)]
    {
        mix.entry().set_follows(mix_follows);
        drums.entry().set_role(role);
        look(&drums, &bass);
        assert_eq!(drums.entry().followed(), followed, "{mix_follows}, {role:?}");
    }
    mix.entry().reset();
    assert_eq!(drums.entry().restarts(), 0);
    assert!(look(&drums, &bass).parts.iter().all(|part| part.ceiling.is_none()));
    assert_eq!(drums.entry().restarts(), 1);
}

/// However long a reading takes, the one of the stopped song is not waited for.
#[test]
fn the_stopped_song_is_read_without_a_rest() {
    let (mix, mut part) = (player(1, Role::Mix), player(2, Role::Drums));
    let mut reader = Reader::default();
    play(&mut part, 0, &strokes(0, 3, 0));
    reader.look(&entries(&[&mix, &part]));
    let onsets = |reader: &mut Reader, part: &Publisher| {
        let a_while_ago = Instant::now().checked_sub(READ[1]).expect("the clock runs");
        let mix_s = reader.mixes.get_mut(&1).expect("looked at");
        mix_s.read = Some((a_while_ago, Duration::from_secs(1)));
        reader.look(&entries(&[&mix, part]));
        let linked = mix.entry().linked().1;
        let whole = linked.reading.as_ref().and_then(|reading| reading.whole.clone());
        whole.expect("read").session.tracks[0].onsets.len()
    };
    let before = onsets(&mut reader, &part);
    play(&mut part, 3 * SECOND, &strokes(0, 3, 0));
    assert_eq!(onsets(&mut reader, &part), before, "it rests");
    stop(&mut part);
    assert!(onsets(&mut reader, &part) > before, "it does not");
}

#[test]
fn a_long_pause_parts_two_passages() {
    let (mix, mut part) = (player(1, Role::Mix), player(2, Role::Drums));
    let mut reader = Reader::default();
    let mut passage = |part: &mut Publisher, from_s: usize| {
        play(part, from_s * SECOND, &strokes(0, 3, 0));
        reader.mixes.clear();
        reader.look(&entries(&[&mix, &*part]));
        let reading = mix.entry().linked().1.reading.clone().expect("read");
        let (from, to) = reading.passage_s.expect("live");
        (from.round() as i64, to.round() as i64)
    };
    assert_eq!(passage(&mut part, 0), (0, 3));
    assert_eq!(passage(&mut part, 7), (0, 10), "a pause of four seconds");
    assert_eq!(passage(&mut part, 60), (60, 63));
    assert_eq!(passage(&mut part, 8), (0, 11), "back where it was heard before");
}

/// Drums, a bass, and a layer of noise that holds through all of it.
fn band() -> [Publisher; 3] {
    [player(2, Role::Drums), player(3, Role::Bass), player(4, Role::Other)]
}

/// Plays the second `from_s` to `to_s` of some of [`band`].
fn perform(players: &mut [Publisher], from_s: usize, to_s: usize) {
    let (from, seconds) = (from_s * SECOND, to_s - from_s);
    for player in players {
        let layer = player.entry().role() == Role::Other;
        let noise = |n: usize| ((from + n) * 7_919 % 1_013) as f32 / 5_065.0 - 0.1;
        let held: Vec<f32> = (0..seconds * SECOND).map(noise).collect();
        let audio = if layer { held } else { strokes(from, seconds, 0) };
        play(player, from, &audio);
    }
}

/// What the mix reads now.
fn read(reader: &mut Reader, mix: &Publisher, players: &[Publisher]) -> Arc<Linked> {
    reader.mixes.values_mut().for_each(|mix| mix.read = None);
    let all: Vec<&Publisher> = std::iter::once(mix).chain(players).collect();
    reader.look(&entries(&all));
    mix.entry().linked().1
}

/// The bars before it came are no silence of its own: what it costs is read where it was heard.
#[test]
fn a_part_that_joins_late_is_read_where_it_was_heard() {
    let mix = player(1, Role::Mix);
    let whole = |from_s: usize| {
        let (mut reader, mut players) = (Reader::default(), band());
        perform(&mut players, from_s, 16);
        players.iter_mut().for_each(stop);
        read(&mut reader, &mix, &players)
    };
    let leaks = |linked: &Linked| linked.reading.as_ref().expect("read").leaks;
    let (mut reader, mut players) = (Reader::default(), band());
    perform(&mut players[..2], 0, 10);
    let before = leaks(&read(&mut reader, &mix, &players))[1];
    assert_eq!(before.state, State::Clear, "{before:?}");
    // One stroke and a half: it is not known yet what it takes.
    perform(&mut players, 10, 11);
    let linked = read(&mut reader, &mix, &players);
    let soon = leaks(&linked)[1];
    assert_eq!((soon.state, soon.cost), (State::Unknown, None));
    assert!(matches!(soon.need, Need::Hits { have: 1..5, .. }), "{soon:?}");
    assert_eq!(linked.parts[2].status, PartStatus::Heard);
    perform(&mut players, 11, 16);
    players.iter_mut().for_each(stop);
    let late = read(&mut reader, &mix, &players);
    let (from_s, to_s) = late.reading.as_ref().and_then(|r| r.passage_s).expect("live");
    assert!((from_s - 10.0).abs() < 0.01 && (to_s - 16.0).abs() < 0.01, "{from_s} to {to_s} s");
    let [_, clutter, _] = leaks(&late);
    assert_eq!(clutter.state, State::Leaking, "{clutter:?}");
    // The first second and what surrounds the first stroke is all that differs from the section alone.
    let section = leaks(&whole(10))[1].cost.expect("known");
    let apart = clutter.cost.expect("known").db - section.db;
    assert!(apart.abs() < 0.3, "{clutter:?} against {section:?}");
}

/// A track that is switched off while the others go on does not hold the reading where it was.
#[test]
fn a_part_that_is_switched_off_waits_and_holds_nobody_back() {
    let mix = player(1, Role::Mix);
    let (mut reader, mut players) = (Reader::default(), band());
    let mut play_on = |players: &mut [Publisher], some: usize, from_s: usize, to_s: usize| {
        perform(&mut players[..some], from_s, to_s);
        let linked = read(&mut reader, &mix, players);
        let (from_s, to_s) = linked.reading.as_ref().and_then(|r| r.passage_s).expect("live");
        let heard = linked.parts.iter().map(|part| part.status == PartStatus::Heard);
        (heard.collect::<Vec<_>>(), from_s.round() as i64, to_s.round() as i64)
    };
    assert_eq!(play_on(&mut players, 3, 0, 10), (vec![true; 3], 0, 10));
    assert_eq!(play_on(&mut players, 2, 10, 20), (vec![true; 3], 0, 10));
    assert_eq!(play_on(&mut players, 2, 20, 30), (vec![true, true, false], 0, 30));
    // Back where it was heard it counts as it was, as all do.
    assert_eq!(play_on(&mut players, 2, 4, 6), (vec![true; 3], 0, 10));
    // Switched on again it is read from there.
    assert_eq!(play_on(&mut players, 3, 30, 40), (vec![true; 3], 30, 40));
}

#[test]
fn memory_is_bounded_and_the_oldest_leaves_first() {
    let mut part = player(2, Role::Drums);
    let mut reader = Reader::default();
    let entries = entries(&[&part]);
    let silence = vec![0.0; SECOND];
    // Scattered places, so that each second makes a page or two of its own.
    for k in 0..PAGES + 200 {
        play(&mut part, k * 2 * SECOND, &silence[..SECOND / 16]);
        reader.look(&entries);
    }
    let (held, last) = part
        .entry()
        .with_timeline(|t| (t.len(), t.pages(0).map(|(number, _)| number).collect::<Vec<_>>()));
    assert!(held <= PAGES && held > PAGES - 200, "{held}");
    assert!(last[0] > 100, "the first places are gone: {}", last[0]);
}

#[test]
fn one_at_another_rate_is_told_and_left_out() {
    let (mix, mut part) = (player(1, Role::Mix), player(2, Role::Drums));
    let high = Config { sample_rate_hz: 96_000.0, ..CONFIG };
    part.activate(high).expect("a sound rate");
    play(&mut part, 0, &strokes(0, 2, 0));
    let mut reader = Reader::default();
    reader.look(&entries(&[&mix, &part]));
    let (_, linked) = mix.entry().linked();
    assert_eq!(linked.parts[0].status, PartStatus::OtherRate);
    assert_eq!(linked.reading, None);
}

/// What is saved says what is missing, when the song has stopped, too; a part that is there needs no advice to be put
/// there.
#[test]
fn parts_that_were_not_heard_are_told_in_the_report() {
    let (mix, mut part) = (player(1, Role::Mix), player(2, Role::Drums));
    let mut reader = Reader::default();
    let mut says = |part: &Publisher| {
        reader.mixes.values_mut().for_each(|mix| mix.read = None);
        reader.look(&entries(&[&mix, part]));
        let linked = mix.entry().linked().1;
        let (mut readings, source) = (Readings::default(), Source::default());
        readings.leaks.timing.need = Need::Parts;
        let mut report = Report::new(source, &readings, &[], Thresholds::default());
        let alone = report.leaks.timing.leak.says.clone();
        linked.say_unheard(&mut report);
        (linked.parts[0].status, report.leaks.timing.leak.says, alone)
    };
    let (status, said, alone) = says(&part);
    assert_eq!((status, &*said), (PartStatus::Waiting, words::links::LINKED_NOT_HEARD));
    assert!(alone.contains("each part's bus"), "{alone}");
    part.process(&[&[0.1; 480]], &Cue { playing: true, ..Cue::default() }, true);
    stop(&mut part);
    let (status, said, _) = says(&part);
    assert_eq!((status, &*said), (PartStatus::NoPosition, words::links::LINKED_NO_POSITION));
    play(&mut part, 0, &strokes(0, 2, 0));
    let (status, said, alone) = says(&part);
    assert_eq!((status, said), (PartStatus::Heard, alone));
}
