//! Parameters: ids, ranges, flags, and the way from value to text and back.

use brunt_host::Block;

use crate::material::instance;

/// Name, id, smallest and largest value in the host's scale. The ids are 31-hashes of the id
/// strings, as the framework makes them; they stand here as numbers because sessions hold the
/// numbers: a change of any breaks every saved automation.
const EXPECTED: [(&str, u32, f64, f64); 9] = [
    ("Bypass", 773_352_680, 0.0, 1.0),
    ("Side-chain role", 3_530_071, 0.0, 3.0),
    ("Reset", 108_404_047, 0.0, 1.0),
    ("Watch from", 112_903_375, 0.0, 1.0),
    ("Leaking from", 3_317_603, 0.0, 1.0),
    ("Reset on transport start", 878_525_361, 0.0, 1.0),
    ("Listen", 1_044_975_047, 0.0, 2.0),
    ("Role", 3_506_294, 0.0, 5.0),
    ("Part trim", 3_568_674, 0.0, 1.0),
];

#[test]
fn names_ids_and_ranges_are_stable() {
    let got: Vec<_> =
        instance().parameters().into_iter().map(|p| (p.name, p.id, p.min, p.max)).collect();
    assert_eq!(got, EXPECTED.map(|(name, id, min, max)| (name.to_owned(), id, min, max)));
}

#[test]
fn only_the_bypass_is_marked_as_bypass_and_only_the_audition_is_not_automatable() {
    for parameter in instance().parameters() {
        assert_eq!(parameter.bypass, parameter.name == "Bypass", "{parameter:?}");
        // What is heard besides the mix must not get into a bounce by itself.
        assert_eq!(parameter.automatable, parameter.name != "Listen", "{parameter:?}");
    }
}

#[test]
fn a_fresh_instance_has_the_defaults() {
    let mut plugin = instance();
    for parameter in plugin.parameters() {
        let value = plugin.value(&parameter).expect("has a value");
        assert!((value - parameter.default).abs() < 1e-6, "{parameter:?}: {value}");
    }
}

#[test]
fn every_text_is_read_back_as_its_value() {
    let mut plugin = instance();
    for parameter in plugin.parameters() {
        for step in 0..=60 {
            let mut value =
                parameter.min + (parameter.max - parameter.min) * f64::from(step) / 60.0;
            if parameter.stepped {
                value = value.round();
            }
            let text = plugin.text(&parameter, value).expect("has a text");
            let back = plugin.parse(&parameter, &text).expect("reads its own text");
            let again = plugin.text(&parameter, back).expect("has a text");
            assert_eq!(text, again, "{}: {value} became {back}", parameter.name);
        }
    }
}

#[test]
fn the_roles_are_worded() {
    let mut plugin = instance();
    let role = plugin.parameter("Side-chain role").expect("there");
    let texts: Vec<_> = (0..4).filter_map(|k| plugin.text(&role, f64::from(k))).collect();
    assert_eq!(texts, ["Off", "Before limiter", "Reference", "Partner"]);
    let listen = plugin.parameter("Listen").expect("there");
    let texts: Vec<_> = (0..3).filter_map(|k| plugin.text(&listen, f64::from(k))).collect();
    assert_eq!(texts, ["Mix", "Side-chain", "Difference"]);
    let role = plugin.parameter("Role").expect("there");
    let texts: Vec<_> = (0..6).filter_map(|k| plugin.text(&role, f64::from(k))).collect();
    assert_eq!(texts, ["Mix bus", "Drums", "Bass", "Guitars", "Vocals", "Other"]);
}

#[test]
fn nonsense_text_is_refused() {
    let mut plugin = instance();
    for parameter in plugin.parameters() {
        for text in ["", "bananas", "\u{1f941}", "NaN dB"] {
            if let Some(value) = plugin.parse(&parameter, text) {
                // A switch may take any word that is not "off" for on; a number may not.
                let range = parameter.min..=parameter.max;
                let sound = parameter.stepped && range.contains(&value);
                assert!(sound, "{}: \"{text}\" is {value}", parameter.name);
            }
        }
    }
}

#[test]
fn a_value_set_before_or_during_processing_is_kept() {
    let mut plugin = instance();
    let watch = plugin.parameter("Watch from").expect("there");
    plugin.set(&watch, 0.25).expect("sets");
    assert!((plugin.value(&watch).expect("value") - 0.25).abs() < 0.01);
    let mut audio = plugin.activate(48_000.0, 64).expect("activates");
    let silence = [0.0; 64];
    let main = [&silence[..], &silence[..]];
    let changes = [watch.event(0.5)];
    let block = Block { main: &main, changes: &changes, ..Block::default() };
    audio.process(&block).expect("processes");
    assert!((plugin.value(&watch).expect("value") - 0.5).abs() < 0.01);
    plugin.deactivate(audio);
    assert!((plugin.value(&watch).expect("value") - 0.5).abs() < 0.01);
}
